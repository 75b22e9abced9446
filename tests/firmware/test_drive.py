"""A simulated drive through the emulated logger, over a terminal, to the true damping ratio."""

from __future__ import annotations

import signal
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import serial

from ridelog.car.load import load_car
from ridelog.runs.analyze import analyze_log
from ridelog.simulate.files import car_toml
from tests.firmware.drive_waves import WAVE_RATE_HZ, simulate_drive
from tests.firmware.line_frames import DESCRIBE, START, STOP, command, read_line

ROOT = Path(__file__).parents[2]
RECORD = (sys.executable, "-m", "tests.record.run_ridelog", "record")
SECONDS = 60


@contextmanager
def board_on_a_terminal(bench, *words):
    """The emulated board, and the name of its line."""
    call = [str(bench.board), str(bench.firmware()), "--pty", *words]
    with subprocess.Popen(call, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield process.stdout.readline().strip()
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(timeout=10)


def take_down(port_name: str, sampled_s: float) -> bytes:
    """What comes down the line while so many seconds are sampled, as the logger counts them.

    Opening a terminal may throw away what came before, within a frame: the logger is asked again
    what its channels are, and what stands before the first frame's end is left out.
    """
    data, asked_to_stop = bytearray(), False
    with serial.Serial(port_name, 500_000, timeout=0.5) as port:
        port.write(b"\0" + command(DESCRIBE) + command(START))
        while piece := port.read(port.in_waiting or 1):
            data += piece
            if not asked_to_stop and len(data) > sampled_s * 500 * 32:
                port.write(command(STOP))
                asked_to_stop = True
            elif asked_to_stop and any(not s.sampling for s in read_line(data[-60:]).statuses):
                break
    return bytes(data[data.index(0) + 1 :])


@pytest.fixture(scope="module")
def drive(bench):
    return simulate_drive(bench.folder / "drive.f32", SECONDS + 4, seed=231)


@pytest.fixture(scope="module")
def recorded(bench, drive):
    folder = bench.folder / "drive"
    folder.mkdir()
    with board_on_a_terminal(bench, *drive.words) as port:
        data = take_down(port, SECONDS)
    (folder / "drive.rec").write_bytes(data)
    (folder / "car.toml").write_text(car_toml(drive.log.car))
    return folder / "drive.rec"


def test_nothing_is_lost_over_the_terminal(recorded):
    line = read_line(recorded.read_bytes())
    last = line.statuses[-1]
    assert line.bad == 0
    assert last.due == len(line.of(0x11)) >= 500 * (SECONDS - 1)
    assert (last.missed, last.dropped, last.refused) == (0, 0, 0)


def test_values_are_the_drive_within_quantisation(recorded, drive):
    line = read_line(recorded.read_bytes())
    readings = np.array([values for _, _, values in line.samples()])
    ticks_s = np.array([ticks for _, ticks, _ in line.samples()]) * 4e-6
    wave_s = np.arange(len(drive.columns[0])) / WAVE_RATE_HZ
    for place, pin in enumerate((0, 1, 2, 3, 6, 7)):
        # The drive begins with the first scan, the input is held 16 us and whole slots later.
        held_s = ticks_s - ticks_s[0] + 16e-6 + place * 144e-6
        true = np.interp(held_s, wave_s, drive.columns[pin]) * 1024 / 5
        assert np.abs(readings[:, place] + 0.5 - true).max() < 0.51
    for place, column in ((6, 10), (9, 13)):
        # Older by filter and interval, 900 us on average; the part's own clock makes it +-312 us.
        shown = np.interp(ticks_s - ticks_s[0] - 800e-6, wave_s, drive.columns[column]) * 4096
        assert np.corrcoef(readings[:, place], shown)[0, 1] > 0.97


def test_analysis_gives_the_true_damping_ratio(recorded, drive):
    result = analyze_log(recorded, load_car(recorded.parent / "car.toml"))
    assert not [problem for problem in result.problems if problem.code in ("late", "clock", "gap")]
    for axle, truth in drive.log.truth.axles.items():
        found = result.axles[axle]
        assert found.damping_ratio.low <= truth.damping_ratio <= found.damping_ratio.high
        assert found.damping_ratio.value == pytest.approx(truth.damping_ratio, rel=0.25)
        assert found.body_frequency_hz.value == pytest.approx(truth.body_frequency_hz, rel=0.03)


@pytest.mark.slow
def test_ridelog_records_from_the_emulated_logger(bench, drive, tmp_path):
    """In real time: the recorder as people start it, a mark of the button, and nothing lost."""
    file = tmp_path / "drive.rec"
    words = ("--pace", "1", "--button", "4", *drive.words)
    with board_on_a_terminal(bench, *words) as port:
        done = subprocess.run(
            [*RECORD, port, "--out", str(file), "--rate", "400", "--seconds", "6"],
            capture_output=True,
            text=True,
            check=False,
            cwd=ROOT,
            timeout=60,
        )
    assert done.returncode == 0, done.stderr
    line = read_line(file.read_bytes())
    last = line.statuses[-1]
    assert not last.sampling
    assert last.due == len(line.of(0x11)) > 1500
    assert (last.missed, last.dropped, last.refused) == (0, 0, 0)
    assert line.rates_hz[-1] == 400
    assert len(line.of(0x15)) == 1
