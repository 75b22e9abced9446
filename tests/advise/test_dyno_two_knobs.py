"""Dyno sheets of dampers with two and four knobs: each stroke's own law, the other knob's leak."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.advise.double_knobs import side_targets
from ridelog.advise.dyno_law import LEAK_MEAN, LEAK_SD, click_effect, sheet_law
from ridelog.advise.high_speed_knobs import high_speed_reasons
from ridelog.advise.next_step import advise
from ridelog.car.description import DynoPoint
from ridelog.car.dyno_sheet import read_dyno_sheet
from ridelog.car.load import load_car
from ridelog.errors import CarFileError
from ridelog.recording import CORNERS
from tests.advise import builders
from tests.advise.test_four_knobs import FOUR, car_file

BUMP_LAST, REBOUND_LAST = 16, 20
AXLE = builders.axle(
    clicks=None, bump_clicks=BUMP_LAST, rebound_clicks=REBOUND_LAST, target_damping_ratio=0.35
)
WANTED = side_targets(0.35)
CRITICAL = 2 * np.sqrt(AXLE.spring_rate_n_per_m * AXLE.motion_ratio**2 * AXLE.sprung_mass_kg / 2)


def true_ratios(bump: float, rebound: float, leak: float = 0.3) -> np.ndarray:
    """A made-up damper: bump 0.09 to 0.36, rebound 0.15 to 0.90, each leaking into the other."""
    own, other = bump / BUMP_LAST, rebound / REBOUND_LAST
    return np.exp(
        [
            np.log(0.09) + np.log(4.0) * own**0.6 + leak * other,
            np.log(0.15) + np.log(6.0) * other**1.4 + leak * own,
        ]
    )


def point(bump: int, rebound: int, level: float, leak: float, **more: int) -> DynoPoint:
    """One place on a machine that reads `level` times too high, at 0.05 m/s."""
    forces = level * true_ratios(bump, rebound, leak) * CRITICAL / AXLE.motion_ratio**2 * 0.05
    return DynoPoint(
        bump_clicks=bump,
        rebound_clicks=rebound,
        speed_m_per_s=0.05,
        bump_n=float(forces[0]),
        rebound_n=float(forces[1]),
        **more,
    )


def cross(level: float = 1.0, leak: float = 0.3) -> tuple[DynoPoint, ...]:
    """Each knob swept with the other in its middle, as sheets are usually made."""
    places = [(b, 10) for b in range(0, 17, 4)] + [(8, r) for r in range(0, 21, 4)]
    return tuple(point(b, r, level, leak) for b, r in places)


def law_of(points: tuple[DynoPoint, ...], stroke: str):
    """What the sheet promises for one stroke."""
    other = "rebound" if stroke == "bump" else "bump"
    return sheet_law(
        replace(AXLE, dyno_sheet=points),
        AXLE.spring_rate_n_per_m,
        knob=f"{stroke}_clicks",
        stroke=stroke,
        other_knob=f"{other}_clicks",
    )


def test_a_worked_point() -> None:
    """60 N/mm, 0.7, 400 kg a corner: critical 2 sqrt(29400 x 400) = 6858.6 N s/m at the wheel.

    160 N at 50 mm/s are 3200 N s/m at the damper, 1568 at the wheel: 0.2286 in bump.
    """
    points = tuple(
        DynoPoint(bump_clicks=b, rebound_clicks=0, speed_m_per_s=0.05, bump_n=160 * f)
        for b, f in ((0, 1.0), (16, 2.0))
    )
    axle = replace(AXLE, dyno_sheet=points, sprung_mass_kg=800.0, motion_ratio=0.7)
    law = sheet_law(axle, 60e3, knob="bump_clicks", stroke="bump", other_knob="rebound_clicks")
    assert np.exp([log for _, log in law.points]) == pytest.approx([0.2286, 0.4572], abs=1e-4)


@pytest.mark.parametrize("stroke", ["bump", "rebound"])
@pytest.mark.parametrize("leak", [0.0, 0.3])
def test_both_knobs_and_their_leak_are_found(stroke: str, leak: float) -> None:
    """With the other knob at full soft the law is the damper's own, at every click measured."""
    law = law_of(cross(leak=leak), stroke)
    assert law.leak_mean == pytest.approx(leak, abs=0.03)
    assert law.leak_sd < LEAK_SD / 2
    side, last = (0, BUMP_LAST) if stroke == "bump" else (1, REBOUND_LAST)
    for share, log in law.points:
        places = (share * last, 0) if stroke == "bump" else (0, share * last)
        assert np.exp(log) == pytest.approx(true_ratios(*places, leak)[side], rel=0.03)


def test_knobs_turned_together_leave_the_leak_as_usual() -> None:
    """Both knobs at the same share: the sheet cannot part them, and does not pretend to."""
    law = law_of(tuple(point(b, b * 5 // 4, 1.0, 0.3) for b in range(0, 17, 4)), "bump")
    assert law.leak_mean == pytest.approx(LEAK_MEAN)
    assert law.leak_sd == pytest.approx(LEAK_SD, rel=0.01)


def advice_after(bump: int, rebound: int, points: tuple[DynoPoint, ...], axle=AXLE):
    """Advice after one good drive at a pair of clicks."""
    axle = replace(axle, dyno_sheet=points)
    sides = true_ratios(bump, rebound)
    read = builders.axle_result(
        float(sides.mean()),
        relative_half_width=0.04,
        damping_ratio_bump=builders.estimate(float(sides[0]), 0.04),
        damping_ratio_rebound=builders.estimate(float(sides[1]), 0.04),
    )
    setup = {
        "bump_clicks": dict.fromkeys(CORNERS, bump),
        "rebound_clicks": dict.fromkeys(CORNERS, rebound),
    }
    run = builders.run("a.csv", {}, read, **setup)
    return advise(builders.car(axle, axle), [run]).axles["front"]


@pytest.mark.parametrize("start", [(2, 3), (14, 4), (8, 18)])
@pytest.mark.parametrize("level", [0.85, 1.0, 1.15])
def test_one_drive_and_a_sheet_with_a_wrong_level_suffice(
    start: tuple[int, int], level: float
) -> None:
    front = advice_after(*start, cross(level))
    reached = true_ratios(front.bump_clicks.next, front.rebound_clicks.next)
    assert reached == pytest.approx(np.array(WANTED), rel=0.10)
    assert any("The dyno sheet tells what a click does" in reason for reason in front.reasons)


def test_without_the_sheet_the_same_drive_does_not_suffice() -> None:
    front = advice_after(2, 3, ())
    reached = true_ratios(front.bump_clicks.next, front.rebound_clicks.next)
    assert np.abs(reached / WANTED - 1).max() > 0.10
    assert not any("dyno" in reason for reason in front.reasons)


def test_the_only_knob_of_one_stroke_rules_the_mean() -> None:
    """Bump fixed at 100 N, rebound 100 to 300 N: the mean doubles."""
    axle = replace(
        AXLE,
        bump_clicks=None,
        dyno_sheet=tuple(
            DynoPoint(rebound_clicks=r, speed_m_per_s=0.05, bump_n=100.0, rebound_n=100.0 + 10 * r)
            for r in (0, 20)
        ),
    )
    law = sheet_law(axle, AXLE.spring_rate_n_per_m, knob="rebound_clicks")
    assert law.points[-1][1] - law.points[0][1] == pytest.approx(np.log(2))


def test_high_speed_clicks_are_told_by_the_sheet() -> None:
    """Ten high-speed clicks that double the force at 0.3 m/s: 2^(1/10) - 1 = 7 % a click."""
    knobs = dict.fromkeys(("bump_clicks", "rebound_clicks"), 8)
    points = tuple(
        DynoPoint(
            high_speed_bump_clicks=h, speed_m_per_s=v, bump_n=2000 * v * f, rebound_n=1.0, **knobs
        )
        for h, fast in ((0, 1.0), (10, 2.0))
        for v, f in ((0.05, 1.0), (0.3, fast))
    )
    axle = replace(AXLE, high_speed_bump_clicks=10, dyno_sheet=points)
    effect = click_effect(axle, "high_speed_bump_clicks", "bump", 0.3)
    assert effect == pytest.approx(2**0.1 - 1)
    assert click_effect(axle, "bump_clicks", "bump", 0.05) is None
    words = high_speed_reasons(
        axle, "front", [builders.run("a.csv", {}, builders.axle_result(0.3))]
    )[0]
    assert "at 0.3 m/s: 7 % of the bump force there and 0 % at 0.05 m/s." in words


KNOBS = {"bump_clicks": 16, "rebound_clicks": 20, "high_speed_bump_clicks": 8}
SHEET = """\
bump_clicks,rebound_clicks,speed [mm/s],bump [N],rebound [N]
0,10,50,100,
16,10,50,210,
8,0,50,,-200
8,20,50,,-610
"""


def test_a_four_knob_sheet_beside_the_car_file(tmp_path) -> None:
    """Counted from full stiff in this car file; a force that was not measured stays empty."""
    text = SHEET.replace("bump_clicks,rebound", "low_speed_bump_clicks,low_speed_rebound", 1)
    text = text.replace("speed [mm", "high_speed_bump_clicks,speed [mm").replace(",50,", ",3,50,")
    swapped = text.replace("\n0,", "\n-,").replace("\n16,", "\n0,").replace("\n-,", "\n16,")
    swapped = swapped.replace("8,0,", "8,-,").replace("8,20,", "8,0,").replace("8,-,", "8,20,")
    (tmp_path / "front.csv").write_text(swapped)
    car = load_car(car_file(tmp_path, FOUR + '\ndyno_sheet = "front.csv"'))
    assert car.front.dyno_sheet[0] == DynoPoint(
        bump_clicks=0,
        rebound_clicks=10,
        high_speed_bump_clicks=5,
        speed_m_per_s=0.05,
        bump_n=100.0,
    )
    assert car.front.dyno_sheet[3].rebound_clicks == 20


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (SHEET.replace("\n0,", "\n17,"), 'point 1: bump_clicks "17" is none of the knob\'s'),
        (SHEET.replace("rebound_clicks,", "slow,"), 'column "slow" is unknown; known are bump_cl'),
        ("clicks" + SHEET[11:], 'column "clicks" is unknown'),
        ("speed [mm/s],bump [N],rebound [N]\n50,1,1\n", "the column bump_clicks is missing"),
        (SHEET.replace("100,", ","), "point 1: has no force; leave the row out"),
        (SHEET.replace("100,", "0,"), "point 1: speed and forces must differ from zero"),
        (SHEET.replace("8,0,50", "8,,50"), "point 3: rebound_clicks is missing"),
        (SHEET.replace("100", "nan"), "point 1"),
        (SHEET.split("16,10")[0], "tells one click only; measure at 2 or more"),
        (SHEET.replace(",50,", ",300,"), "tells no force near 50 mm/s at 2 clicks of a knob"),
        (SHEET.replace("100", "310"), "less force at stiffer bump_clicks; check clicks_from"),
        (SHEET.replace("-200", "900"), "less force at stiffer rebound_clicks; check"),
    ],
)
def test_faults_take_one_line(tmp_path, text: str, words: str) -> None:
    path = tmp_path / "front.csv"
    path.write_text(text)
    points, faults = read_dyno_sheet(path, KNOBS, "soft")
    assert points == ()
    assert "\n" not in faults[0]
    assert faults[0].startswith("front.csv")
    assert words in faults[0]


def test_a_sheet_needs_a_knob_in_the_car_file(tmp_path) -> None:
    with pytest.raises(CarFileError, match="needs clicks = "):
        load_car(car_file(tmp_path, 'dyno_sheet = "front.csv"'))
