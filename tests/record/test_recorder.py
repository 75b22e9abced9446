"""The recorder on a pseudo terminal: nothing lost, through pulled plugs, reboots and the axe."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from ridelog.car.description import Logger
from ridelog.errors import FileError, RecorderError
from ridelog.ingest.frame_counts import SampleCounts
from ridelog.ingest.read import read_log
from ridelog.record.file import RecordingFile
from ridelog.record.ports import Line
from ridelog.record.recognise import Speech, recognise
from ridelog.wire.framing import frame
from tests.record.logger_frames import MadeUpLogger, readings
from tests.record.pty_board import PtyBoard
from tests.record.recordings import counts_of, opened, recording, start, wait_until, wrong_samples


@pytest.fixture
def board(tmp_path):
    with PtyBoard(tmp_path / "port") as board:
        yield board


@pytest.fixture
def file(tmp_path) -> Path:
    return tmp_path / "drive.rec"


def test_everything_sent_is_in_the_file(board, file):
    with recording(board.link, file) as recorder:
        wait_until(lambda: board.counts()["due"] > 1500)
        number = recorder.mark()
        wait_until(lambda: recorder.snapshot.received > 1600)
    due = board.counts()["due"]
    assert counts_of(file) == SampleCounts(received=due)
    assert wrong_samples(file) == 0
    assert (recorder.snapshot.received, recorder.snapshot.missing) == (due, 0)
    assert number == 1
    raw = read_log(file, Logger())
    assert raw.source.remarks[-1].startswith("marks: mark 1 at 1.")
    # The host stood behind a few milliseconds at most, and both clocks are this computer's.
    times = opened(file).times
    assert times[0].epoch_s == pytest.approx(time.time(), abs=60)


def test_a_rate_that_is_asked_for(board, file):
    with recording(board.link, file, rate_hz=250.0) as recorder:
        wait_until(lambda: recorder.snapshot.received > 100)
    np.testing.assert_allclose(np.diff(read_log(file, Logger()).time_s), 0.004, atol=1e-9)


def test_unplugged_and_plugged_in_again_every_sample_is_accounted_for(board, file):
    with recording(board.link, file) as recorder:
        for _ in range(3):
            received = recorder.snapshot.received
            wait_until(lambda received=received: recorder.snapshot.received > received + 300)
            board.unplug()
            wait_until(lambda: not recorder.snapshot.connected)
            board.plug()
        received = recorder.snapshot.received
        wait_until(lambda: recorder.snapshot.received > received + 300)
    counts = counts_of(file)
    assert counts.due == board.counts()["due"]
    assert counts.received < counts.due
    assert counts.lost == counts.due - counts.received
    assert wrong_samples(file) == 0
    assert recorder.snapshot.gap_count >= 3


def test_another_boot_is_another_run(board, file):
    with recording(board.link, file) as recorder:
        wait_until(lambda: recorder.snapshot.received > 300)
        board.unplug()
        wait_until(lambda: not recorder.snapshot.connected)
        before = board.counts()
        board.reboot()
        board.plug()
        wait_until(lambda: recorder.snapshot.run_count == 2)
        received = recorder.snapshot.received
        wait_until(lambda: recorder.snapshot.received > received + 300)
    runs = opened(file).frames.runs
    assert [run.number for run in runs] == [before["run"], before["run"] + 1]
    assert wrong_samples(file) == 0
    # Behind the last word of the first run nobody knows what it still sampled.
    assert counts_of(file).received == sum(len(run.ticks) for run in runs)
    time_s = read_log(file, Logger()).time_s
    assert np.all(np.diff(time_s) > 0)


def test_drops_of_the_logger_are_told_as_its_own(board, file):
    with recording(board.link, file) as recorder:
        wait_until(lambda: recorder.snapshot.received > 200)
        with board._lock:
            board.logger.skip(17, dropped=True)
            board.logger.skip(5, missed=True)
        received = recorder.snapshot.received
        wait_until(lambda: recorder.snapshot.received > received + 200)
    counts = counts_of(file)
    assert (counts.dropped, counts.missed, counts.lost, counts.untold) == (17, 5, 0, 0)
    snapshot = recorder.snapshot
    assert (snapshot.missing, snapshot.dropped, snapshot.missed) == (22, 17, 5)


@pytest.mark.slow
@pytest.mark.parametrize("after_s", [0.2, 0.71, 1.33])
def test_killed_it_has_lost_a_tenth_of_a_second_at_most(board, file, after_s):
    process = start(board.link, file)
    wait_until(lambda: file.exists() and file.stat().st_size > 1000)
    time.sleep(after_s)
    sent = board.counts()["due"]
    process.kill()
    process.communicate()
    received = counts_of(file).received
    assert sent - received <= 100
    assert wrong_samples(file) == 0
    assert read_log(file, Logger()).source.rows_read == received


@pytest.mark.slow
def test_ctrl_c_ends_it_with_all_samples_and_no_traceback(board, file):
    process = start(board.link, file)
    wait_until(lambda: file.exists() and file.stat().st_size > 20_000)
    process.send_signal(signal.SIGINT)
    output, errors = process.communicate(timeout=20)
    assert process.returncode == 0
    due = board.counts()["due"]
    assert counts_of(file) == SampleCounts(received=due)
    assert output.startswith(f"{due} samples in 0:0")
    assert f"{due} samples, none missing" in output
    assert "Traceback" not in errors
    assert "does not look at this screen" in errors


def mute(board: PtyBoard) -> None:
    """Let it neither hear nor say anything of its own."""
    with board._lock:
        board.deaf, board._status_s = True, float("inf")


def say(board: PtyBoard, data: bytes) -> None:
    with board._lock:
        board._say(data)


def say_soon(board: PtyBoard, data: bytes) -> None:
    """Opening a port throws away what came before: speak a little later."""
    threading.Timer(0.5, say, (board, data)).start()


def failure_of(port: Path, file: Path, longest_s: float = 20.0) -> str:
    with pytest.raises((RecorderError, FileError)) as failure, recording(port, file) as recorder:
        wait_until(lambda: recorder.ended, longest_s)
    return str(failure.value)


def test_no_such_port(tmp_path, file):
    assert failure_of(tmp_path / "none", file).endswith("none: there is no such port")
    assert not file.exists()


def test_a_port_that_is_in_use(board, file, tmp_path):
    with recording(board.link, tmp_path / "first.rec"):
        assert "another program has it open; close that first" in failure_of(board.link, file)


def test_a_file_is_no_port(tmp_path, file):
    (tmp_path / "text").write_text("x")
    assert "is not a serial port" in failure_of(tmp_path / "text", file)


@contextmanager
def as_nobody() -> Iterator[None]:
    """Root may open everything: be somebody else for a while."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


def open_to_all(folder: Path) -> None:
    for each in (folder, *folder.parents[:2]):
        each.chmod(0o755)


def test_no_permission_on_the_port(tmp_path):
    open_to_all(tmp_path)
    port = tmp_path / "port"
    port.touch(mode=0o000)
    with as_nobody(), pytest.raises(RecorderError, match="no permission to open it; on Linux join"):
        Line(str(port), 9600)


def test_an_existing_file_is_left_alone(board, file):
    file.write_text("precious")
    assert failure_of(board.link, file) == (
        "drive.rec: exists; nothing was recorded, choose another name"
    )
    assert file.read_text() == "precious"


def test_a_folder_that_cannot_be_written(tmp_path):
    open_to_all(tmp_path)
    folder = tmp_path / "locked"
    folder.mkdir(mode=0o555)
    message = r"^drive.rec: cannot be written \(Permission denied\)$"
    with as_nobody(), pytest.raises(FileError, match=message):
        RecordingFile(folder / "drive.rec")
    with pytest.raises(FileError, match="there is no folder"):
        RecordingFile(tmp_path / "none" / "drive.rec")


def test_a_full_disk_keeps_what_was_received(board, file, monkeypatch):
    write = os.write

    def full(handle, data):
        """A disk that takes 20 kB, the last of them in part."""
        if not file.exists() or os.fstat(handle).st_ino != file.stat().st_ino:
            return write(handle, data)
        left = 20_000 - file.stat().st_size
        if left <= 0:
            raise OSError(28, "No space left on device")
        return write(handle, bytes(data)[:left])

    monkeypatch.setattr("ridelog.record.file.os.write", full)
    assert failure_of(board.link, file).endswith(
        "drive.rec: cannot be written any more (No space left on device); what was received until"
        " now is kept in it"
    )
    assert file.stat().st_size == 20_000
    assert wrong_samples(file) == 0


def test_nonsense_means_a_wrong_baud_rate_and_is_kept(board, file):
    random = np.random.default_rng(224)
    mute(board)
    say_soon(board, random.integers(0, 256, 4000, dtype=np.uint8).tobytes())
    failure = failure_of(board.link, file)
    assert "bytes come in, but neither frames nor lines of numbers: 500000 baud" in failure
    assert file.stat().st_size > 3000


def test_firmware_of_another_version(board, file):
    mute(board)
    say_soon(board, b"\0" + 3 * frame(b"\x21\x01\x02\x03\x04\x05\x06\x07\x08"))
    assert "speaks another version of the frames than this ridelog (1)" in failure_of(
        board.link, file
    )


def test_silence_leaves_no_file_behind(board, file):
    mute(board)
    with recording(board.link, file) as recorder:
        time.sleep(0.3)
    assert recorder.snapshot.waiting_for == "waiting for the logger"
    assert not file.exists()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("said", "words"),
    [
        (b"", "nothing came at 500000 baud; is it the right port, is --baud right"),
        (b"\x91\x7f\x02", "3 bytes came at 500000 baud, too few to tell what they are"),
    ],
)
def test_a_logger_that_says_nothing_or_next_to_nothing(board, file, said, words):
    mute(board)
    process = start(board.link, file, "--seconds", "2")
    wait_until(file.exists)
    time.sleep(0.5)
    say(board, said)
    _, errors = process.communicate(timeout=30)
    assert process.returncode == 2
    assert words in errors.splitlines()[-1]
    assert (file.read_bytes() if said else not file.exists()) == (said or True)


HEADER = "time_ms,travel_fl_mm,body_fl_g\r\n"


def rows(first: int, count: int) -> str:
    return "".join(
        f"{2 * n},{n % 50 - 20}.5,{1 + n % 7 / 100}\r\n" for n in range(first, first + count)
    )


def test_a_logger_that_prints_lines(board, file, tmp_path):
    mute(board)
    with recording(board.link, file) as recorder:
        say(board, (HEADER + rows(0, 200)).encode())
        wait_until(lambda: recorder.snapshot.speech is Speech.LINES)
        say(board, rows(200, 50).encode()[:-4])
        wait_until(lambda: recorder.snapshot.line_count >= 250)
        board.unplug()
        wait_until(lambda: not recorder.snapshot.connected)
        board.plug()
        wait_until(lambda: recorder.snapshot.connected)
        say(board, (HEADER + rows(0, 100)).encode())
        wait_until(lambda: len(recorder.parts) == 2 and recorder.snapshot.line_count >= 351)
    second = tmp_path / "drive-2.rec"
    assert recorder.parts == [file, second]
    assert file.read_bytes() == (HEADER + rows(0, 249)).encode()  # half a number would lie
    assert second.read_bytes() == (HEADER + rows(0, 100)).encode()
    assert read_log(file, Logger()).source.rows_read == 249
    assert read_log(second, Logger()).source.rows_read == 100


def test_who_speaks_is_told_by_what_it_sends():
    logger = MadeUpLogger()
    frames = logger.samples(readings(3, logger.channels))
    assert recognise(frames[:5]) is Speech.UNKNOWN
    assert recognise(b"rubbish\x00" + frames) is Speech.FRAMES
    assert recognise(b"hello\nworld\n") is Speech.UNKNOWN
    assert recognise(b"0.5,7\n1.0;2.5;-3e2\n") is Speech.LINES
    assert recognise(b"a\tb\n1\t2") is Speech.UNKNOWN
    assert recognise(b"a\tb\n1\t2\n") is Speech.LINES
