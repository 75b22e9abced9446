"""Dampers with low-speed and high-speed knobs: low-speed ones are advised, the others explained.

That low-speed valving rules body motions (damper speeds up to some 0.1 m/s) and high-speed valving
sharp edges (0.2 m/s and more) is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.advise.high_speed_knobs import high_speed_reasons
from ridelog.advise.next_step import advise
from ridelog.car.load import load_car
from ridelog.errors import CarFileError, SetupFileError
from ridelog.estimate.result import CornerResult, ForcePoint
from ridelog.recording import CORNERS
from ridelog.report.advice_pictures import advice_pictures
from ridelog.report.advice_words import axle_words
from ridelog.runs.load_setup import load_setup
from tests.advise import builders

AXLE = builders.axle(
    clicks=None,
    bump_clicks=20,
    rebound_clicks=24,
    high_speed_bump_clicks=10,
    high_speed_rebound_clicks=10,
)
FRONT = builders.axle_result(
    0.28, damping_ratio_bump=builders.estimate(0.17), damping_ratio_rebound=builders.estimate(0.39)
)


def corner(contacts: int = 0) -> CornerResult:
    """A damper whose force bends at a knee: half a straight line's at 0.2 m/s in bump."""
    forces = ((0.05, 150.0), (-0.05, -300.0), (0.2, 300.0), (-0.2, -900.0))
    told = tuple(ForcePoint(speed_mps=v, force_n=builders.estimate(f)) for v, f in forces)
    return replace(builders.corner_result(0.28, contacts=contacts), damper_force=told)


def run(file: str, high_speed: int = 5, contacts: int = 0):
    """One drive with all four knobs noted."""
    places = {"bump_clicks": 8, "rebound_clicks": 9, "high_speed_bump_clicks": high_speed}
    corners = {c: corner(contacts) for c in CORNERS}
    setup = {knob: dict.fromkeys(CORNERS, click) for knob, click in places.items()}
    return builders.run(file, {}, FRONT, corners=corners, **setup)


def test_low_speed_knobs_are_advised_and_named() -> None:
    advice = advise(builders.car(AXLE, AXLE), [run("a.csv")])
    front = advice.axles["front"]
    assert front.bump_clicks is not None
    assert front.rebound_clicks is not None
    assert front.rebound_clicks.next is not None
    assert "low-speed bump" in advice.next_run
    assert "low-speed rebound" in axle_words("front", front, AXLE).action
    assert any("rule the force at 0.2 to 0.3 m/s" in reason for reason in front.reasons)


def test_each_knob_has_a_law_through_its_own_readings() -> None:
    """Twenty clicks of bump and 24 of rebound, each drawn with its own readings."""
    advice = advise(builders.car(AXLE, AXLE), [run("a.csv")])
    laws = advice.axles["front"].side_laws
    assert (len(laws["bump"].clicks), len(laws["rebound"].clicks)) == (21, 25)
    assert all(np.all(np.diff(law.damping_ratio) >= 0) for law in laws.values())
    titles = [picture.title for picture in advice_pictures(advice, builders.car(AXLE, AXLE))]
    assert "What the front low-speed bump knob does" in titles
    assert "What the rear low-speed rebound knob does" in titles
    driven = dict(advice.runs[0].side_damping_ratio["front"])
    assert driven["bump"] == builders.estimate(0.17)


def test_the_measured_curve_is_told() -> None:
    reason = high_speed_reasons(AXLE, "front", [run("a.csv")])[0]
    assert "at 0.2 m/s: 300 N in bump, 50 % of a straight line" in reason
    assert "900 N in rebound, 75 % of a straight line" in reason
    assert "Leave them" in reason


def test_stops_ask_for_high_speed_bump() -> None:
    reason = high_speed_reasons(AXLE, "front", [run("a.csv", contacts=4)])[0]
    assert "two clicks more high-speed bump" in reason


def test_runs_with_other_high_speed_clicks_are_named() -> None:
    told = high_speed_reasons(AXLE, "front", [run("a.csv", 2), run("b.csv", 5), run("c.csv", 5)])
    assert "stood elsewhere in a.csv;" in told[1]


def test_other_dampers_hear_nothing_of_it() -> None:
    assert high_speed_reasons(builders.axle(), "front", [run("a.csv")]) == ()


CAR = """
[car]
name = "made up"
wheelbase = "2.7 m"
clicks_from = "stiff"
[front]
layout = "independent"
track = "1.5 m"
sprung_mass = "800 kg"
unsprung_mass = "90 kg"
spring_rate = "60 N/mm"
motion_ratio = 0.7
{knobs}
[rear]
layout = "independent"
track = "1.5 m"
sprung_mass = "700 kg"
unsprung_mass = "90 kg"
spring_rate = "60 N/mm"
motion_ratio = 0.7
"""
FOUR = "\n".join(
    f"{way}_speed_{stroke}_clicks = {count}"
    for way, stroke, count in (
        ("low", "bump", 16),
        ("high", "bump", 8),
        ("low", "rebound", 20),
        ("high", "rebound", 10),
    )
)


def car_file(folder, knobs: str):
    """A car file with these knobs in front."""
    path = folder / "car.toml"
    path.write_text(CAR.format(knobs=knobs), encoding="utf-8")
    return path


def test_files_name_all_four(tmp_path) -> None:
    car = load_car(car_file(tmp_path, FOUR))
    front = car.front
    assert (front.bump_clicks, front.high_speed_bump_clicks) == (16, 8)
    assert (front.rebound_clicks, front.high_speed_rebound_clicks) == (20, 10)
    setup = tmp_path / "a.setup.toml"
    setup.write_text(
        "[low_speed_bump_clicks]\nfront = 4\n[high_speed_bump_clicks]\nfl = 1\nfr = 2\n"
    )
    read = load_setup(setup, car)
    assert read.bump_clicks == {"fl": 12, "fr": 12}  # counted from full stiff in the file
    assert read.high_speed_bump_clicks == {"fl": 7, "fr": 6}


def test_a_click_beyond_a_high_speed_knob_is_refused(tmp_path) -> None:
    car = load_car(car_file(tmp_path, FOUR))
    setup = tmp_path / "a.setup.toml"
    setup.write_text("[high_speed_bump_clicks]\nfront = 9\n")
    with pytest.raises(
        SetupFileError, match=r"high_speed_bump_clicks\.front: 9 is beyond the knob"
    ):
        load_setup(setup, car)


@pytest.mark.parametrize(
    ("knobs", "words"),
    [
        (
            "bump_clicks = 9\nlow_speed_bump_clicks = 9",
            "means the same knob; leave bump_clicks out",
        ),
        ("high_speed_bump_clicks = 9", "stands alone; name the low-speed knob too"),
    ],
)
def test_knobs_that_do_not_go_together(tmp_path, knobs: str, words: str) -> None:
    with pytest.raises(CarFileError, match=words):
        load_car(car_file(tmp_path, knobs))
