"""The plan: time goes with one over the square of the wish, what does not shrink is said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ridelog.advise.plan import plan_drive, sensor_set
from ridelog.advise.plan_hump import SHARE_OF_GAP
from ridelog.advise.plan_table import typical
from ridelog.errors import RidelogError
from ridelog.estimate.hump import hump_answer
from ridelog.estimate.result import Estimate, LogInfo
from ridelog.recording import BODY_CHANNELS, HUB_CHANNELS, TRAVEL_CHANNELS
from ridelog.runs.plan_inputs import WantedWidths
from tests.advise import builders

FULL = (*TRAVEL_CHANNELS, *BODY_CHANNELS, *HUB_CHANNELS, "speed")
TWO = ("body_fl", "body_rl")


@pytest.mark.parametrize(
    ("channels", "name"),
    [
        (FULL, "travel+body+hub"),
        ((*BODY_CHANNELS, *HUB_CHANNELS), "body+hub"),
        ((*TRAVEL_CHANNELS, *BODY_CHANNELS), "travel+body"),
        (TWO, "body"),
        (TRAVEL_CHANNELS, "travel"),
        (("cabin",), "one"),
        (("speed", "body_lat"), None),
    ],
)
def test_sensor_sets(channels, name):
    assert sensor_set(channels) == name


def measured(random, systematic, seconds=60.0, channels=TWO, file="first.csv"):
    """A run whose body frequency has these relative half-widths."""
    half = (random**2 + systematic**2) ** 0.5
    frequency = Estimate(
        value=1.25,
        low=1.25 * (1 - half),
        high=1.25 * (1 + half),
        random_half_width=1.25 * random,
        systematic_half_width=1.25 * systematic,
        largest_contributor="sprung mass",
    )
    result = replace(builders.axle_result(0.3), body_frequency_hz=frequency)
    run = builders.run(file, 6, result, result)
    log = LogInfo(
        file=file, kind="drive", duration_s=seconds, sample_rate_hz=250.0, channels=channels
    )
    return replace(run, analysis=replace(run.analysis, log=log))


def frequency_plan(runs, wanted, channels=TWO):
    wish = WantedWidths(damping_ratio=None, body_frequency_hz=wanted)
    return plan_drive(builders.car(), channels, runs, wish)


def test_half_the_width_takes_four_times_as_long():
    """Standard error of a mean: the random part goes with one over the root of time."""
    usual = typical("body", "A", "body_frequency_hz")
    assert usual.stuck == 0  # else part of the random would not shrink
    run = measured(random=0.04, systematic=0.0)
    needs = [frequency_plan([run], wanted).needs[0] for wanted in (0.04, 0.02)]
    road = frequency_plan([run], 0.02).road
    if typical("body", road, "body_frequency_hz").stuck == 0:
        assert needs[0].seconds == pytest.approx(60.0)
        assert needs[1].seconds == pytest.approx(240.0)
    assert needs[1].width.after(needs[1].seconds) == pytest.approx(0.02)


def test_what_driving_does_not_shrink_is_named():
    plan = frequency_plan([measured(random=0.01, systematic=0.03)], 0.02)
    assert all(need.seconds is None for need in plan.needs)
    assert plan.seconds == 180.0
    assert any("out of reach" in note and "sprung mass" in note for note in plan.notes)


def test_own_runs_count_before_the_usual_widths():
    assert frequency_plan([], 0.05).needs[0].width.source == "usual for these sensors"
    own = frequency_plan([measured(0.03, 0.001)], 0.05)
    assert {need.width.place for need in own.needs} == {"front", "rear"}
    assert own.needs[0].width.source == "measured in first.csv"
    other_sensors = frequency_plan([measured(0.03, 0.001, channels=FULL)], 0.05)
    assert other_sensors.needs[0].width.source == "usual for these sensors"


def test_long_needs_become_repeats_of_three_minutes():
    plan = frequency_plan([measured(random=0.06, systematic=0.0)], 0.03)
    longest = max(need.seconds for need in plan.needs)
    assert longest == pytest.approx(240.0, rel=0.3)
    assert plan.repeats == 2
    assert plan.total_s >= longest


def test_the_table_has_every_set_and_no_negative_width():
    for sensors in ("travel+body+hub", "travel+body", "body+hub", "body", "travel", "one"):
        for quantity in ("damping_ratio", "body_frequency_hz"):
            row = typical(sensors, "A", quantity)
            assert min(row.shrinking, row.stuck, row.systematic) >= 0
            assert 0 < row.wide < 2
    assert typical("bounce", "-", "damping_ratio") is not None
    assert typical("bounce", "A", "damping_ratio") is None


def test_more_sensors_never_tell_frequency_worse():
    """What the table was measured for, seen from outside: sensors help."""

    def width(sensors):
        row = typical(sensors, "A", "body_frequency_hz")
        return (row.shrinking**2 + row.stuck**2 + row.systematic**2) ** 0.5

    assert width("travel+body+hub") < width("travel+body") < width("travel") < width("body")
    assert width("body") < width("one")


def test_the_hump_leaves_room_to_the_stops():
    axle = replace(builders.axle(), bump_gap_m=0.045, droop_gap_m=0.05)
    car = builders.car(axle, axle)
    hump = plan_drive(car, FULL).hump
    assert max(hump.travel_m.values()) <= SHARE_OF_GAP * 0.045
    short = replace(axle, bump_gap_m=0.03)
    assert plan_drive(builders.car(short, short), FULL).hump.speed_m_per_s < hump.speed_m_per_s
    faster = hump_answer(axle, axle.target_damping_ratio, 220e3, hump.speed_m_per_s + 0.6)
    over = faster.bump_m > SHARE_OF_GAP * 0.045 or faster.droop_m > SHARE_OF_GAP * 0.05
    assert over or hump.speed_m_per_s > 8.0


def test_steps_follow_the_sensors():
    names = [step.name for step in plan_drive(builders.car(), FULL).steps]
    assert names.index("Bounce test") < names.index("Drive") < names.index("One hump")
    two = {step.name: step for step in plan_drive(builders.car(), ("cabin",)).steps}
    assert two["Bounce test"].do.startswith("Leave it out")
    corners = {s.name: s for s in plan_drive(builders.car(), (*FULL, "body_lat")).steps}
    assert "roll gradient" in corners["Corners"].tells


def test_sensors_that_tell_nothing_are_refused():
    with pytest.raises(RidelogError, match="neither frequency nor damping"):
        plan_drive(builders.car(), ("speed",))


def test_safety_is_in_every_plan():
    said = " ".join(plan_drive(builders.car(), FULL).safety)
    for words in ("passenger", "law", "empty road", "clearance", "torque", "under load"):
        assert words in said


def knob_step(car, channels=FULL, runs=()):
    """What the plan says of knobs, or None."""
    steps = {step.name: step.do for step in plan_drive(car, channels, runs).steps}
    return steps.get("Knobs")


def test_the_first_drive_is_split_to_learn_what_a_click_does():
    """A third of 18 clicks is 6, of 16 and 20 (two knobs) 5 and 7."""
    two = builders.axle(clicks=None, bump_clicks=16, rebound_clicks=20)
    words = knob_step(builders.car(builders.axle(clicks=18), two))
    assert "front 6 of 18 clicks" in words
    assert "rear bump 5 of 16 clicks, rear rebound 7 of 20 clicks" in words
    fixed = builders.axle(clicks=None)
    assert knob_step(builders.car(fixed, fixed)) is None
    assert knob_step(builders.car(), TWO) is None  # half a drive reads too little there


def test_knobs_once_turned_need_no_split():
    first, same, other = (
        builders.run(f"{name}.csv", click, builders.axle_result(0.3))
        for name, click in (("a", 6), ("b", 6), ("c", 9))
    )
    assert knob_step(builders.car(), runs=[first, same])
    assert knob_step(builders.car(), runs=[first, other]) is None
