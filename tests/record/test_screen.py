"""What the recorder shows: channels judged by their last seconds, losses, room on the disk."""

from __future__ import annotations

import io
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from ridelog.cli.main import main
from ridelog.record.live import LiveState
from ridelog.record.ports import PortInfo
from ridelog.record.recognise import Speech
from ridelog.record.snapshot import Snapshot, take_snapshot
from ridelog.report.recording_screen import (
    port_lines,
    recording_line,
    recording_screen,
    recording_summary,
)
from tests.record.logger_frames import MadeUpLogger

G_COUNTS = 2048


def live_of(table: np.ndarray, logger: MadeUpLogger | None = None) -> LiveState:
    """Three seconds of readings, half a second at a time: travel fl, fr, then body fl, fr."""
    logger = logger or MadeUpLogger()
    live = LiveState()
    live.feed(logger.describe() + logger.status(), 0.0)
    for index, part in enumerate(np.array_split(table, 6)):
        live.feed(logger.samples(part), 0.5 * (index + 1))
    return live


def standing(seed: int = 226) -> np.ndarray:
    random = np.random.default_rng(seed)
    levels = [512, 500, G_COUNTS, G_COUNTS]
    return np.rint(np.array(levels) + random.normal(0, [0.0, 0.3, 8, 8], (1500, 4))).astype(int)


def driving(seed: int = 227) -> np.ndarray:
    random = np.random.default_rng(seed)
    return standing() + np.rint(random.normal(0, [60, 60, 700, 700], (1500, 4))).astype(int)


def warnings_of(table: np.ndarray) -> list[str]:
    return [state.warning for state in live_of(table).channel_states()]


def test_a_standing_car_with_its_sensors_upright_is_well():
    assert warnings_of(standing()) == ["", "", "", ""]


def test_a_driving_car_is_well():
    assert warnings_of(driving()) == ["", "", "", ""]


def test_upside_down_and_lying_on_its_side_at_standstill():
    table = standing()
    table[:, 2] -= 2 * G_COUNTS
    table[:, 3] -= G_COUNTS
    assert warnings_of(table) == ["", "", "upside down", "not upright (0.0 g)"]


def test_while_driving_nobody_can_say_what_is_up():
    table = driving()
    table[:, 2] -= 2 * G_COUNTS
    assert warnings_of(table)[2] == ""


def test_flat():
    table = driving()
    table[:, 0] = 512
    table[:, 3] = G_COUNTS
    assert warnings_of(table) == ["flat", "", "", "flat"]


def test_clipped():
    table = driving()
    table[700, 0] = 1013
    table[701, 2] = -32767
    assert warnings_of(table) == ["clipped", "", "clipped", ""]


def test_a_sensor_that_does_not_answer():
    table = driving()
    table[:, 2] = -0x8000
    table[::3, 3] = -0x8000
    assert warnings_of(table) == ["", "", "no answer", "answers now and then"]


def test_only_the_last_seconds_count():
    logger = MadeUpLogger()
    table = driving()
    table[10, 0] = 1020
    live = live_of(table, logger)
    assert live.channel_states()[0].warning == "clipped"
    for second in range(8):
        live.feed(logger.samples(driving()[:50]), 4.0 + second)
    assert live.channel_states()[0].warning == ""


def snapshot_of(live: LiveState, **changes) -> Snapshot:
    snapshot = take_snapshot(
        live,
        now_s=3.0,
        elapsed_s=3723.4,
        speech=Speech.FRAMES,
        waiting_for="",
        connected=True,
        line_count=0,
        last_words="",
        mark_count=2,
        size_bytes=1_234_567,
    )
    return replace(snapshot, **changes)


def shown(snapshot: Snapshot, width: int = 100, free_bytes: int = 50 * 10**9) -> str:
    console = Console(width=width, record=True, file=io.StringIO())
    console.print(recording_screen(snapshot, Path("drive.rec"), free_bytes, width))
    return console.export_text()


def test_the_screen():
    logger = MadeUpLogger()
    live = live_of(driving(), logger)
    logger.skip(4)
    logger.skip(3, dropped=True)
    live.feed(logger.samples(driving()[:100]) + logger.status(), 3.2)
    text = shown(snapshot_of(live))
    assert "1:02:03  made-up logger: 500 samples/s" in text or "of 500" in text
    assert "drive.rec: 1.2 MB, 50.0 GB disk left" in text
    assert "1600 samples, 7 missing in 1 gap, 3 of them by the logger" in text
    assert "m: mark (2 set)   Ctrl-C: end" in text
    assert "The driver does not look at this screen" in text
    (bar,) = [line for line in text.splitlines() if line.startswith("travel_fl")]
    assert bar.count("●") == 1
    assert bar.split()[-1] == "mm"
    assert "the disk is nearly full" in shown(snapshot_of(live), free_bytes=10**7)


def test_the_screen_of_a_phone_holds_the_same_numbers():
    text = shown(snapshot_of(live_of(driving())), width=44)
    assert max(map(len, text.splitlines())) <= 44
    assert "●" not in text
    assert "travel_fr" in text


def test_lines_and_words_of_other_states():
    live = live_of(standing())
    waiting = snapshot_of(live, waiting_for="unplugged: waiting for it to come back")
    assert recording_line(waiting) == (
        "1:02:03; unplugged: waiting for it to come back; 1500 samples, none missing"
    )
    printed = snapshot_of(live, speech=Speech.LINES, line_count=77, last_words="1,2,3")
    assert "a logger that prints lines, 77 so far" in recording_line(printed)
    assert recording_summary(printed, [Path("a.csv"), Path("a-2.csv")]) == [
        "77 lines in 1:02:03 recorded in a.csv, a-2.csv",
        "put them together: ridelog join a.csv a-2.csv --out FILE",
        "next: ridelog check a.csv",
    ]


def test_ports_are_listed():
    ports = [PortInfo(device="/dev/ttyUSB0", words="USB adapter", identity=(1, 2, "x"))]
    assert port_lines(ports) == [
        "/dev/ttyUSB0  USB adapter",
        "record from one:  ridelog record /dev/ttyUSB0 --out FILE",
    ]
    assert port_lines([]) == [
        "no serial port found; plug the logger in, or look at its cable and driver"
    ]


def test_a_port_without_a_file_is_a_usage_error(capsys):
    with pytest.raises(SystemExit) as leaving:
        main(["record", "/dev/ttyUSB0"])
    assert leaving.value.code == 2
    assert capsys.readouterr().err == (
        "ridelog record: --out FILE is needed: where shall /dev/ttyUSB0 be recorded?"
        " See ridelog record --help.\n"
    )


@pytest.mark.skipif(sys.platform == "win32", reason="names ports another way")
def test_a_missing_port_is_one_line(tmp_path, capsys):
    with pytest.raises(SystemExit) as leaving:
        main(["record", str(tmp_path / "none"), "--out", str(tmp_path / "a.rec")])
    assert leaving.value.code == 2
    assert capsys.readouterr().err == f"{tmp_path}/none: there is no such port\n"
    assert not (tmp_path / "a.rec").exists()
