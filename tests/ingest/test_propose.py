"""Columns of unknown logs are guessed by name, unit and content; doubt is said, not hidden."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from ridelog.car.channels import logger_from
from ridelog.car.schema import LoggerSection
from ridelog.ingest.column_words import name_words
from ridelog.ingest.propose import Proposal, propose
from ridelog.ingest.read import read_log
from ridelog.report.proposal import mapping_block

G = 9.80665
COUNT = 400
SAMPLES = Path(__file__).parents[2] / "sample_logs"


@pytest.fixture
def random() -> np.random.Generator:
    return np.random.default_rng(12)


def proposal(folder: Path, **columns: np.ndarray) -> Proposal:
    names = ",".join(name.replace("__", " ") for name in columns)
    rows = "".join(
        ",".join("" if np.isnan(cell) else f"{cell:.6g}" for cell in row) + "\n"
        for row in zip(*columns.values(), strict=True)
    )
    path = folder / "unknown.csv"
    path.write_text(f"{names}\n{rows}")
    return propose(path)


def guess(found: Proposal, column: str):
    return next(each for each in found.columns if each.column == column)


def accelerometer(random, one_g: float, count: int = COUNT) -> np.ndarray:
    return one_g * (1 + 0.1 * random.standard_normal(count))


MILLIS = np.arange(COUNT) * 2.0


@pytest.mark.parametrize(
    ("name", "place", "corner", "axis"),
    [
        ("Shock pot FL [mm]", "travel", "fl", None),
        ("rear_left_damper", "travel", "rl", None),
        ("susp_RR", "travel", "rr", None),
        ("hubAccFR", "hub", "fr", None),
        ("Chassis accel front right z", "body", "fr", "vertical"),
        ("wheel speed fl", "speed", "fl", None),
        ("seatAz", "seat", None, "vertical"),
        ("front pot", "travel", None, None),
        ("A0", None, None, None),
    ],
)
def test_words_in_names(name, place, corner, axis):
    words = name_words(name)
    assert (words.place, words.corner, words.axis) == (place, corner, axis)


@pytest.mark.parametrize(("unit", "one_g"), [("g", 1.0), ("m/s^2", G), ("mg", 1000.0)])
def test_gravity_tells_the_unit_and_which_way_up(tmp_path, random, unit, one_g):
    found = proposal(
        tmp_path,
        millis=MILLIS,
        body_acc_fl=accelerometer(random, one_g),
        body_acc_rl=-accelerometer(random, one_g),
    )
    up, down = guess(found, "body_acc_fl"), guess(found, "body_acc_rl")
    assert (up.channel, up.unit, up.sign, up.sure) == ("body_fl", unit, 1, True)
    assert (down.channel, down.unit, down.sign, down.sure) == ("body_rl", unit, -1, True)
    assert "upside down" in down.reason


def test_the_block_reads_the_log_it_was_made_for(tmp_path, random):
    travel = 20 * random.standard_normal(COUNT)
    body = accelerometer(random, 1.0)
    found = proposal(
        tmp_path,
        tick=MILLIS,
        **{"Shock__pot__FL__[mm]": travel, "chassis__fl__[g]": -body, "A7": travel + 5},
    )
    block = mapping_block(found)
    section = LoggerSection.model_validate(tomllib.loads(block)["logger"])
    logger, faults = logger_from(section)
    assert faults == ()
    raw = read_log(tmp_path / "unknown.csv", logger)
    np.testing.assert_allclose(raw.time_s, MILLIS / 1000, atol=1e-9)
    np.testing.assert_allclose(raw.channels["travel_fl"], travel / 1000, atol=1e-6)
    np.testing.assert_allclose(raw.channels["body_fl"], G * body, atol=1e-3)
    assert guess(found, "A7").channel is None


def test_what_two_columns_could_be_is_not_sure_and_stays_a_remark(tmp_path, random):
    found = proposal(
        tmp_path,
        millis=MILLIS,
        body_acc_fl=accelerometer(random, 1.0),
        chassis_fl=accelerometer(random, 1.0),
    )
    assert not any(each.sure for each in found.columns)
    assert guess(found, "chassis_fl").reason.startswith("2 columns could be body_fl: choose")
    live = [line for line in mapping_block(found).splitlines() if line[:1] not in ("#", "[", "")]
    assert live == []


@pytest.mark.parametrize(
    ("name", "values", "channel", "words"),
    [
        ("Acc FL", 1.0 + 0.3 * np.sin(MILLIS), "body_fl", "does not say where it is mounted"),
        ("gps_speed", 20 + np.sin(MILLIS), "speed", "unit not named"),
        ("pot FR [V]", 2.5 + np.sin(MILLIS), "travel_fr", "needs points"),
        ("front pot [mm]", 9 * np.sin(MILLIS), None, "no corner in its name"),
        ("pressure [hPa]", 1000 + np.sin(MILLIS), None, "nothing fits"),
        ("Gyro Z", np.sin(MILLIS), None, "no ride quantity"),
        ("body_acc_rr", np.full(COUNT, 1.0), None, "does not move"),
        ("x", np.sin(MILLIS), None, "nothing fits"),
    ],
)
def test_doubt_is_said(tmp_path, name, values, channel, words):
    found = proposal(tmp_path, millis=MILLIS, **{name.replace(" ", "__"): values})
    each = guess(found, name)
    assert each.channel == channel
    assert not each.sure
    assert words in each.reason


@pytest.mark.parametrize(
    ("steps", "unit", "sure"),
    [(0.002, "s", True), (2.0, "ms", True), (2000.0, "us", True), (1.0, "ms", False)],
)
def test_the_clock_is_what_only_rises(tmp_path, random, steps, unit, sure):
    clock = steps * np.arange(COUNT)
    found = proposal(tmp_path, c1=clock, c2=random.standard_normal(COUNT))
    assert found.time.column == "c1"
    assert found.time.sure is sure
    assert f'unit = "{unit}"' in found.time.line


def test_a_slow_channel_is_told_by_its_blank_cells(tmp_path):
    speed = np.where(np.arange(COUNT) % 50 == 0, 40 + MILLIS / 100, np.nan)
    found = proposal(tmp_path, millis=MILLIS, **{"speed__[km/h]": speed})
    each = guess(found, "speed [km/h]")
    assert (each.channel, each.unit, each.sure) == ("speed", "km/h", True)
    assert "a slow channel" in each.reason


def test_ridelogs_own_names_need_nothing():
    found = propose(SAMPLES / "simulated_estate" / "estate_two_accel_sim.csv.gz")
    assert [each.channel for each in found.columns] == ["body_fl", "body_rl"]
    assert mapping_block(found) == ""


def test_a_measured_log_of_a_box_that_points_down():
    """What its owners mapped by hand: cabin from acc_down with sign -1."""
    found = propose(SAMPLES / "real_windscreen_imu" / "drive.csv.gz")
    each = guess(found, "acc_down")
    assert (each.channel, each.unit, each.sign) == ("cabin", "m/s^2", -1)
    assert not each.sure


def test_a_table_of_a_clock_alone_is_no_crash(tmp_path):
    path = tmp_path / "torn.csv"
    path.write_text("time_s,travel_fl_mm,body_fl_mps2\n0.00")
    found = propose(path)
    assert found.columns == ()


def test_numbers_beyond_all_bounds_do_not_rise(tmp_path):
    path = tmp_path / "drive.csv"
    path.write_text("a,b\n" + "".join(f"{row % 2},1e904\n" for row in range(9)))
    assert propose(path).time.index is None
