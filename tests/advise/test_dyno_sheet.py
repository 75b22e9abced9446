"""A dyno sheet in the car file: read, turned into damping, and used for slope rather than level."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.advise.dyno_law import sheet_law
from ridelog.advise.next_step import advise
from ridelog.car.description import DynoPoint
from ridelog.car.dyno_sheet import read_dyno_sheet
from ridelog.car.load import load_car
from ridelog.errors import CarFileError
from tests.advise import builders
from tests.advise.test_four_knobs import car_file

LAST = 18
TARGET = 0.35


def true_log_ratio(click: float) -> float:
    """A made-up knob: 0.12 at full soft, 0.70 at full stiff, most of it in the first clicks."""
    return float(np.log(0.12) + np.log(0.70 / 0.12) * (click / LAST) ** 0.7)


def sheet(level: float = 1.0) -> tuple[DynoPoint, ...]:
    """The knob on a dyno, every third click; the machine reads `level` times too high."""
    axle = builders.axle()
    mass, wheel_rate = axle.sprung_mass_kg / 2, axle.spring_rate_n_per_m * axle.motion_ratio**2
    points = []
    for click in range(0, LAST + 1, 3):
        at_wheel = np.exp(true_log_ratio(click)) * 2 * np.sqrt(wheel_rate * mass)
        mean = level * at_wheel / axle.motion_ratio**2 * 0.05
        points.append(
            DynoPoint(clicks=click, speed_m_per_s=0.05, bump_n=0.6 * mean, rebound_n=1.4 * mean)
        )
        points.append(
            DynoPoint(clicks=click, speed_m_per_s=0.25, bump_n=1.8 * mean, rebound_n=4.2 * mean)
        )
    return tuple(points)


def test_a_worked_point() -> None:
    """60 N/mm, 0.7, 400 kg a corner: critical 2 sqrt(29400 x 400) = 6858.6 N s/m at the wheel.

    160 N and 240 N at 50 mm/s are 4000 N s/m at the damper, 1960 at the wheel: 0.2858.
    """
    points = tuple(
        DynoPoint(clicks=click, speed_m_per_s=0.05, bump_n=160 * f, rebound_n=240 * f)
        for click, f in ((0, 1.0), (9, 2.0))
    )
    law = sheet_law(builders.axle(dyno_sheet=points), 60e3).points
    assert np.exp(law[0][1]) == pytest.approx(0.2858, abs=1e-4)
    assert np.exp(law[1][1]) == pytest.approx(2 * 0.2858, abs=2e-4)
    assert law[2] == (1.0, pytest.approx(law[1][1] + np.log(2)))  # the slope carried on


def advice_after(start: int, points: tuple[DynoPoint, ...]):
    """Advice after one good drive at a click."""
    axle = builders.axle(dyno_sheet=points, clicks=LAST, target_damping_ratio=TARGET)
    read = builders.axle_result(float(np.exp(true_log_ratio(start))), relative_half_width=0.04)
    return advise(builders.car(axle, axle), [builders.run("a.csv", start, read)]).axles["front"]


@pytest.mark.parametrize("start", [1, 4, 15])
@pytest.mark.parametrize("level", [0.85, 1.0, 1.15])
def test_one_drive_and_a_sheet_with_a_wrong_level_suffice(start: int, level: float) -> None:
    front = advice_after(start, sheet(level))
    reached = np.exp(true_log_ratio(front.clicks.next))
    assert abs(reached / TARGET - 1) < 0.10
    assert front.predicted_damping_ratio.low < reached < front.predicted_damping_ratio.high
    assert any("The dyno sheet tells what a click does" in reason for reason in front.reasons)


def test_the_sheet_narrows_the_slope() -> None:
    def width(points: tuple[DynoPoint, ...]) -> float:
        law = advice_after(2, points).knob_law
        return float(np.log(law.high[14] / law.low[14]))

    assert width(sheet(1.15)) < 0.6 * width(())


def test_runs_win_over_a_sheet_of_other_valving() -> None:
    """The sheet says six times from end to end; the runs of this car say twice."""
    axle = builders.axle(dyno_sheet=sheet(), clicks=LAST, target_damping_ratio=TARGET)
    runs = [
        builders.run(f"{c}.csv", c, builders.axle_result(0.25 * 2 ** (c / LAST))) for c in (2, 16)
    ]
    law = advise(builders.car(axle, axle), runs).axles["front"].knob_law
    assert law.damping_ratio[9] == pytest.approx(0.25 * 2**0.5, rel=0.12)


SHEET = "clicks,speed [mm/s],bump [N],rebound [N]\n0,50,100,-200\n9,50,150,300\n18,50,210,410\n"
FROM_STIFF = SHEET.replace("\n0,", "\n-,").replace("\n18,", "\n0,").replace("\n-,", "\n18,")


def test_a_sheet_beside_the_car_file(tmp_path) -> None:
    """The car file counts from full stiff: 18 there is full soft."""
    (tmp_path / "front.csv").write_text(FROM_STIFF)
    car = load_car(car_file(tmp_path, 'clicks = 18\ndyno_sheet = "front.csv"'))
    first = car.front.dyno_sheet[0]
    assert first == DynoPoint(clicks=0, speed_m_per_s=0.05, bump_n=100, rebound_n=200)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (SHEET.replace("9,50", "19,50"), 'front.csv, point 2: clicks "19" is none of the knob'),
        (SHEET.replace(" [N]", ""), 'front.csv, point 1: "100" has no unit'),
        (SHEET.replace("bump", "push"), 'front.csv: column "push" is unknown; known are clicks'),
        (SHEET.replace(",rebound [N]", ""), "front.csv: the column rebound is missing"),
        (SHEET.split("9,50")[0], "front.csv: tells one click only; measure at 2 or more"),
        (SHEET.replace("150", "0"), "front.csv, point 2: speed and both forces must differ"),
        (SHEET.replace(",50,150,300", ""), "front.csv, point 2: speed is missing"),
        (
            SHEET.replace("bump [N],rebound [N]", "rebound [N],bump [N]").replace("150", ""),
            "front.csv, point 2: rebound is missing",
        ),
        (FROM_STIFF, "front.csv: less force at stiffer clicks; check clicks_from"),
        (SHEET.replace(",50,", ",130,"), "front.csv: tells no force near 50 mm/s at 2 clicks"),
    ],
)
def test_faults_take_one_line(tmp_path, text: str, words: str) -> None:
    path = tmp_path / "front.csv"
    path.write_text(text)
    points, faults = read_dyno_sheet(path, {"clicks": 18}, "soft")
    assert points == ()
    assert "\n" not in faults[0]
    assert words in faults[0]


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ('clicks = 18\ndyno_sheet = "none.csv"', "dyno_sheet: none.csv cannot be read"),
        ('dyno_sheet = "front.csv"', "front.dyno_sheet: needs clicks"),
    ],
)
def test_the_car_file_names_a_sheet_that_fits(tmp_path, keys: str, words: str) -> None:
    with pytest.raises(CarFileError, match=words):
        load_car(car_file(tmp_path, keys))


def test_springs_of_today_count() -> None:
    axle = builders.axle(dyno_sheet=sheet())
    soft, stiff = (sheet_law(axle, rate).points[0][1] for rate in (40e3, 80e3))
    assert soft - stiff == pytest.approx(np.log(2) / 2)
    assert sheet_law(replace(axle, dyno_sheet=()), 40e3).points == ()
