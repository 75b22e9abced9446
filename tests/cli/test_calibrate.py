"""ridelog calibrate: what is printed, and what happens to the owner's car file."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from ridelog.car.description import Logger
from ridelog.car.load import load_car
from ridelog.cli.main import main
from ridelog.ingest.read import read_log

CAR = """\
# my car, written at night
[car]
name = "Saturday wagon"   # the green one
wheelbase = "2.794 m"

[rear]                    # rear first: I measured it first
layout = "independent"
track = "1.50 m"
sprung_mass = "560 kg"
unsprung_mass = "150 kg"
spring_rate = "190 lbf/in"
motion_ratio = 0.78       # from the tape, to be checked

[logger.channels]
# pots are on the damper shafts
travel_rr = { column = "A3", unit = "V", points = [["0.52 V", "-48 mm"], ["4.41 V", "61 mm"]] }
travel_rl = { column = "A2", unit = "mm", sign = -1 }  # by the exhaust
body_fl = { column = "az1", unit = "m/s^2" }

[front]
layout = "independent"
track = "1.52 m"
sprung_mass = "780 kg"
unsprung_mass = "86 kg"
spring_rate = "450 lbf/in"
motion_ratio = 0.61
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "car.toml").write_text(CAR, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def call(*words: str) -> None:
    with pytest.raises(SystemExit) as leaving:
        main(["calibrate", *words])
    assert leaving.value.code == 0


def refused(capsys, *words: str) -> str:
    with pytest.raises(SystemExit) as leaving:
        main(["calibrate", *words])
    printed = capsys.readouterr()
    assert leaving.value.code == 2
    lines = printed.err.splitlines()
    assert len(lines) == 1
    return lines[0]


def changed(folder: Path) -> dict[str, tuple[str, str]]:
    """Lines of the car file that are not what they were, by their beginning."""
    before, after = CAR.splitlines(), (folder / "car.toml").read_text().splitlines()
    assert len(before) == len(after)
    pairs = [pair for pair in zip(before, after, strict=True) if pair[0] != pair[1]]
    return {old.split(" ")[0]: (old, new) for old, new in pairs}


def test_alone_it_shows_its_help(capsys):
    call()
    printed = capsys.readouterr().out
    assert "  six-position  Accelerometer, three axes, six positions." in printed


def test_a_link_to_the_car_file_stays_a_link(folder):
    (folder / "elsewhere").mkdir()
    (folder / "car.toml").rename(folder / "elsewhere" / "real.toml")
    (folder / "car.toml").symlink_to(folder / "elsewhere" / "real.toml")
    call(*TRAVEL, *POINTS, "--car", "car.toml")
    assert (folder / "car.toml").is_symlink()
    kept = folder / "elsewhere" / "real.toml.before-1"
    assert kept.read_text(encoding="utf-8") == CAR


TRAVEL = ("travel", "--column", "A3", "--channel", "travel_rr", "--bump", "shorter")
POINTS = ("--point", "0.50 V", "360 mm", "--point", "4.50 V", "250 mm")


def test_only_the_channels_own_line_changes_and_the_old_file_is_kept(folder, capsys):
    call(*TRAVEL, *POINTS, "--ride-height", "310 mm", "--car", "car.toml")
    lines = changed(folder)
    assert list(lines) == ["travel_rr"]
    assert lines["travel_rr"][1] == (
        'travel_rr = { column = "A3", unit = "V", points = [["0.5 V", "-50.000 mm"],'
        ' ["4.5 V", "60.000 mm"]] }'
    )
    assert (folder / "car.toml.before-1").read_text(encoding="utf-8") == CAR
    assert "the file as it was: car.toml.before-1" in capsys.readouterr().out
    mapping = load_car(folder / "car.toml").logger.channels["travel_rr"]
    np.testing.assert_allclose(mapping.points, [(0.5, -0.05), (4.5, 0.06)])


def test_a_second_calibration_keeps_both_older_files(folder):
    call(*TRAVEL, *POINTS, "--ride-height", "310 mm", "--car", "car.toml")
    second = (folder / "car.toml").read_bytes()
    call(*TRAVEL, *POINTS, "--ride-height", "315 mm", "--car", "car.toml")
    assert (folder / "car.toml.before-1").read_text(encoding="utf-8") == CAR
    assert (folder / "car.toml.before-2").read_bytes() == second


def test_a_dry_run_shows_the_change_and_writes_nothing(folder, capsys):
    call(*TRAVEL, *POINTS, "--ride-height", "310 mm", "--car", "car.toml", "--dry-run")
    printed = capsys.readouterr().out
    assert "\n-travel_rr = {" in printed
    assert "\n+travel_rr = {" in printed
    assert "Nothing was written" in printed
    assert [path.name for path in folder.iterdir()] == ["car.toml"]
    assert (folder / "car.toml").read_text(encoding="utf-8") == CAR


def test_without_a_car_file_the_line_is_printed_alone(folder, capsys):
    call(*TRAVEL, *POINTS)
    printed = capsys.readouterr().out
    assert '\n[logger.channels]\ntravel_rr = { column = "A3"' in printed
    assert "zero is in the middle of the points" in " ".join(printed.split())
    assert (folder / "car.toml").read_text(encoding="utf-8") == CAR


def test_windows_line_ends_and_a_new_channel(folder):
    (folder / "car.toml").write_bytes(CAR.replace("\n", "\r\n").encode())
    call("travel", "--column", "A0", "--channel", "travel_fl", "--bump", "longer", *POINTS[:3],
         "--point", "0.1 V", "400 mm", "--car", "car.toml")  # fmt: skip
    content = (folder / "car.toml").read_bytes()
    assert tomllib.loads(content.decode())["logger"]["channels"]["travel_fl"]["column"] == "A0"
    kept = set(CAR.splitlines()) - set(content.decode().split("\r\n"))
    assert kept == set()


@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_a_car_file_without_a_logger_section_gets_one_at_its_end(folder, mark):
    start, _, rest = CAR.partition("[logger.channels]")
    text = mark + start + rest[rest.index("[front]") :]
    (folder / "car.toml").write_text(text, encoding="utf-8")
    call(*TRAVEL, *POINTS, "--car", "car.toml")
    after = (folder / "car.toml").read_text(encoding="utf-8")
    assert after.startswith(text)
    assert after[len(text) :].split("\n")[1] == "[logger.channels]"
    assert set(load_car(folder / "car.toml").logger.channels) == {"travel_rr"}


def test_a_wrong_channel_is_refused_before_anything_is_written(folder, capsys):
    words = ("travel", "--column", "A3", "--channel", "travel_lr", "--bump", "longer", *POINTS)
    line = refused(capsys, *words, "--car", "car.toml")
    assert line.startswith("car.toml: logger.channels.travel_lr: unknown channel; did you mean")
    assert (folder / "car.toml").read_text(encoding="utf-8") == CAR
    assert [path.name for path in folder.iterdir()] == ["car.toml"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((*TRAVEL, "--point", "0.5 V", "360 mm"), "needs two or more points"),
        ((*TRAVEL, "--point", "0.5 V", "360", *POINTS[3:]), '"360" has no unit'),
        ((*TRAVEL, "--point", "0.5 V", "360 mm", "--point", "2 mm", "3 mm"), "is not that of"),
        ((*TRAVEL, *POINTS, "--dry-run"), "--dry-run needs --car FILE"),
        (("zero", "none.csv", "--car", "car.toml"), "none.csv: no such file"),
        (("motion-ratio", "--point", "1 mm", "2 mm"), "needs two or more pairs"),
        (("motion-ratio", "--point", "1 mm", "2 mm", "--car", "car.toml"), "--axle front or rear"),
    ],
)
def test_bad_calls_get_one_line(folder, capsys, words, said):
    assert said in refused(capsys, *words)


def still(path: Path, seed: int, **means: float) -> Path:
    """Four seconds at rest, with the noise of a cheap sensor."""
    random = np.random.default_rng(seed)
    rows = [
        ",".join(f"{mean + 0.002 * random.standard_normal():.5f}" for mean in means.values())
        for _ in range(400)
    ]
    lines = [f"{i / 100:.2f},{row}" for i, row in enumerate(rows)]
    path.write_text("\n".join(["time_s," + ",".join(means), *lines, ""]))
    return path


# Readings [g] of the worked example of the twelve-parameter fit.
SIX = {
    "+x": (1.055, -0.068, 0.114),
    "-x": (-0.985, -0.052, 0.106),
    "+y": (0.045, 0.925, 0.104),
    "-y": (0.025, -1.045, 0.116),
    "+z": (0.03, -0.048, 1.12),
    "-z": (0.04, -0.072, -0.9),
}


def test_six_positions_into_the_car_file_and_through_a_log(folder, capsys):
    words = []
    for seed, (place, (ax, ay, az)) in enumerate(SIX.items()):
        name = f"{'up' if place[0] == '+' else 'down'}_{place[1]}.csv"
        still(folder / name, seed, ax1=ax, ay1=ay, az1=az)
        words += ["--at", place, name]
    call("six-position", *words, "--columns", "ax1", "ay1", "az1", "--channel", "body_fl",
         "--car", "car.toml")  # fmt: skip
    printed = capsys.readouterr().out
    assert "Warnings" not in printed
    assert "less than the placement can tell" in " ".join(printed.split())
    assert ", cross_axis = { ax1 = -0.00" in printed
    logger = load_car(folder / "car.toml").logger
    log = still(folder / "tilted.csv", 7, ax1=0.643, ay1=-0.0552, az1=0.9204)
    only = Logger(channels={"body_fl": logger.channels["body_fl"]})
    seen = read_log(log, only).channels["body_fl"]
    # The reading belongs to (0.6, 0, 0.8) g; recordings of 400 noisy readings are good to 0.2 mg.
    assert seen.mean() / 9.80665 == pytest.approx(0.8, abs=0.001)


def test_two_positions(folder, capsys):
    up, down = still(folder / "up.csv", 1, az=1.12), still(folder / "down.csv", 2, az=-0.9)
    call("two-position", "--up", up.name, "--down", down.name, "--column", "az",
         "--channel", "cabin")  # fmt: skip
    line = capsys.readouterr().out.split("[logger.channels]\n")[1]
    values = tomllib.loads(line)["cabin"]
    assert values["scale"] == pytest.approx(1 / 1.01, abs=3e-4)
    assert values["offset"] == pytest.approx(-0.11 / 1.01, abs=3e-4)
    assert values.keys() == {"column", "unit", "scale", "offset"}


def test_zero_at_ride_height(folder):
    still(folder / "standing.csv", 3, A3=2.50, A2=-7.0, travel_fl_mm=3.2, az1=9.8)
    call("zero", "standing.csv", "--car", "car.toml")
    logger = load_car(folder / "car.toml").logger
    raw = read_log(folder / "standing.csv", logger)
    for channel in ("travel_rr", "travel_rl", "travel_fl"):
        assert raw.channels[channel].mean() == pytest.approx(0, abs=2e-6)
        scatter_mm = 2e-6 if channel != "travel_rr" else 5.6e-5  # 2 mV at 28 mm per V
        assert raw.channels[channel].std() == pytest.approx(scatter_mm, rel=0.1)
    text = (folder / "car.toml").read_text(encoding="utf-8")
    assert "# by the exhaust" in text
    assert set(CAR.splitlines()) - set(text.splitlines()) == {
        line for line in CAR.splitlines() if line.startswith("travel_r")
    }


def test_a_rocking_car_is_warned_of(folder, capsys):
    rows = "".join(f"{i / 100:.2f},{5 * np.sin(i / 16):.3f}\n" for i in range(400))
    (folder / "rocking.csv").write_text("time_s,A2\n" + rows)
    (folder / "car.toml").write_text(
        CAR.replace("travel_rr", "# travel_rr").replace("body_fl", "# body_fl")
    )
    call("zero", "rocking.csv", "--car", "car.toml", "--dry-run")
    assert "travel_rl moves by 3.5 mm: not at rest" in capsys.readouterr().out


HEIGHTS = [("600 mm", "400 mm"), ("620 mm", "388 mm"), ("640 mm", "376 mm"), ("660 mm", "364 mm")]


def test_the_motion_ratio_keeps_the_remark_behind_it(folder, capsys):
    words = [word for pair in HEIGHTS for word in ("--point", *pair)]
    call("motion-ratio", *words, "--ride-height", "630 mm", "--lever", "240 mm", "400 mm", "0 deg",
         "--axle", "rear", "--car", "car.toml")  # fmt: skip
    printed = " ".join(capsys.readouterr().out.split())
    assert "by lever arms 0.6, which agrees" in printed
    assert "A loaded spring can kill" in printed
    old, new = changed(folder)["motion_ratio"]
    assert new == old.replace("0.78", "0.6", 1)


def test_an_arm_and_a_string(folder, capsys):
    call("arm", "--column", "A1", "--channel", "travel_fr", "--bump", "up", "--arm", "100 mm",
         "--rod", "100 m", "--point", "1 V", "-30 deg", "--point", "4 V", "30 deg",
         "--ride-height", "2.5 V", "--lever-ratio", "0.5")  # fmt: skip
    line = capsys.readouterr().out.split("[logger.channels]\n")[1]
    points = tomllib.loads(line)["travel_fr"]["points"]
    # half of 100 mm sin(30 deg), less what the long rod leans
    assert points[0] == ["1 V", "-25.000 mm"]
    assert points[-1][0] == "4 V"
    call("string", "--column", "A1", "--channel", "travel_fr", "--bump", "shorter",
         "--point", "0 V", "100 mm", "--point", "5 V", "0 mm", "--along", "40 mm",
         "--across", "30 mm", "--ride-height", "5 V")  # fmt: skip
    line = capsys.readouterr().out.split("[logger.channels]\n")[1]
    points = dict(tomllib.loads(line)["travel_fr"]["points"])
    # string 150 mm, 30 mm across: sqrt(150^2 - 30^2) - 40 = 106.969 mm away, in rebound
    assert points["0 V"] == "-106.969 mm"
