"""Commands, boots, marks and the golden run."""

import hashlib
import struct
import subprocess

import pytest

from tests.firmware.emulated import started
from tests.firmware.line_frames import DESCRIBE, MARK, SET_RATE, START, STOP, command


def test_it_says_who_it_is_after_boot_and_waits(bench):
    line = bench.run("--seconds", "0.3").line
    assert [frame.kind for frame in line.frames] == [0x13, *[0x14] * 10, 0x12]
    logger = line.of(0x13)[0].rest
    assert struct.unpack_from("<BIIIH", logger) == (10, 250_000, 500_000, 0, 0x0100)
    assert logger[15:] == b"\x10reference logger"
    first = line.channels[0]
    assert (first.measure, first.corner, first.format, first.unit, first.name) == (
        1,
        1,
        "H",
        "mm",
        "A0",
    )
    assert (first.scale, first.offset, first.low, first.high) == (0.125, -64.0, 10, 1013)
    assert first.instant_ns == 20_000 - 100_000
    assert not line.statuses[0].sampling


def test_each_command_is_answered(bench):
    commands = (
        (0.10, b"\0" + command(DESCRIBE)),
        (0.20, command(START)),
        (0.30, command(MARK, 77)),
        (0.40, command(STOP)),
    )
    ran = bench.run("--seconds", "0.5", commands=commands)
    kinds = [frame.kind for frame in ran.line.frames]
    described = [0x13, *[0x14] * 10, 0x12]
    assert kinds[:24] == described * 2
    rest = [kind for kind in kinds[24:] if kind != 0x11]
    assert rest == [0x12, 0x15, 0x12, 0x12]
    assert kinds[-1] == 0x12  # after the last sample
    mark = ran.line.of(0x15)[0]
    assert struct.unpack("<BI", mark.rest) == (1, 77)
    # Ten bytes at 500 kbaud and the way through the firmware: within a millisecond of being sent.
    assert (mark.ticks - ran.line.samples()[0][1]) * 4e-6 == pytest.approx(0.0985, abs=0.002)
    assert ran.line.statuses[-1].refused == 0


@pytest.mark.parametrize(
    "data",
    [
        command(6),
        command(SET_RATE, 0),
        command(SET_RATE, 5_000_000),  # the scan of six pins alone takes 0.8 ms
        command(SET_RATE, 1_000),
        command(START)[:-2] + b"\x01\0",
        command(START)[1:],
        b"\x02" * 40 + b"\0",
    ],
    ids=["unknown", "no rate", "too fast", "too slow", "wrong CRC", "cut", "noise"],
)
def test_what_makes_no_sense_is_refused_and_counted(bench, data):
    line = bench.run("--seconds", "1.2", commands=((0.1, b"\0" + data),)).line
    assert line.statuses[-1].refused == 1
    assert line.of(0x11) == []
    assert set(line.rates_hz) == {500.0}


def test_a_rate_the_line_cannot_carry_is_refused(bench):
    slow = bench.firmware("-DBAUD=115200 -DDEFAULT_RATE_HZ=250")
    for rate_hz, refused in ((345, 0), (355, 1)):
        commands = ((0.2, command(SET_RATE, rate_hz * 1000)), started(0.3))
        line = bench.run("--seconds", "1.5", firmware=slow, commands=commands).line
        assert line.statuses[-1].refused == refused
        assert line.rates_hz[-1] == (250.0 if refused else pytest.approx(345, abs=0.3))
        assert line.statuses[-1].dropped == line.statuses[-1].missed == 0


def test_every_boot_has_a_run_of_its_own(bench):
    cells = bench.folder / "eeprom.bin"
    cells.write_bytes(b"\xff" * 1024)
    runs = []
    for _ in range(2):
        commands = (started(), started(0.45))
        words = ("--seconds", "0.7", "--reset", "0.4", "--eeprom", str(cells))
        line = bench.run(*words, commands=commands).line
        assert line.bad <= 1  # the frame that the reset cut
        runs += list(dict.fromkeys(frame.run for frame in line.frames))
        for run in runs[-2:]:
            sequences = [f.sequence for f in line.of(0x11) if f.run == run]
            assert sequences == list(range(len(sequences)))
            assert len(sequences) > 90
    assert runs == [0, 1, 2, 3]


def test_the_button_sets_one_mark(bench):
    line = bench.run("--seconds", "0.8", "--button", "0.4", commands=(started(),)).line
    marks = line.of(0x15)
    assert [struct.unpack("<BI", mark.rest) for mark in marks] == [(0, 1)]
    # It looks at the button with every sample.
    assert marks[0].ticks * 4e-6 == pytest.approx(0.4, abs=0.01)


# One second of the `waves` fixture's sines. The bytes depend on the cycles of the main loop,
# so on the compiler; with the same one, another hash means that words or timing have changed.
GOLDEN = {"5.4.0": "a9bf58309e1e16319bfc46b8975ea7a896876f04c1caa6439708dab786014278"}


def test_a_run_is_the_same_to_the_byte(bench, waves):
    words = ("--waves", str(waves[0]), "--seconds", "1")
    first, again = (bench.run(*words, commands=(started(),)).data for _ in range(2))
    assert first == again
    version = subprocess.run(
        ["avr-gcc", "-dumpversion"], capture_output=True, text=True, check=True
    )
    compiler = version.stdout.strip()
    if compiler not in GOLDEN:
        pytest.skip(f"no known hash of what avr-gcc {compiler} makes")
    assert hashlib.sha256(first).hexdigest() == GOLDEN[compiler]
