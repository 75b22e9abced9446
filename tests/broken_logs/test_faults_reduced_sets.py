"""Fewer sensors: no false alarms, and gross faults still named, in milder words where unsure."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.condition.prepare import prepare
from ridelog.recording import CORNERS
from tests.bench.fleet_cache import cached_fleet
from tests.broken_logs.faults import break_log

SETS = {
    "travel and body": [f"{kind}_{corner}" for kind in ("travel", "body") for corner in CORNERS],
    "body and hub": [f"{kind}_{corner}" for kind in ("body", "hub") for corner in CORNERS],
    "travel": [f"travel_{corner}" for corner in CORNERS],
    "four body": [f"body_{corner}" for corner in CORNERS],
    "one body over each axle": ["body_fl", "body_rl"],
    "one": ["body_fr"],
}


@pytest.fixture(scope="module")
def fleet():
    return (
        *cached_fleet("nonlinear", seed=131, count=2, duration_s=30.0),
        *cached_fleet("unkind", seed=133, count=1, duration_s=30.0),
    )


@pytest.fixture(scope="module")
def longer():
    """Hubs tell gains and delays after some forty seconds."""
    return cached_fleet("usual", seed=131, count=1, duration_s=60.0)


def found_in(raw, car) -> list[tuple[str, tuple[str, ...]]]:
    problems = prepare(raw, car).problems
    return [(p.code, p.channels or ((p.channel,) if p.channel else ())) for p in problems]


@pytest.mark.parametrize("car", range(3))
@pytest.mark.parametrize("with_speed", [True, False])
@pytest.mark.parametrize("which", sorted(SETS))
def test_sound_sets_raise_no_alarm(fleet, which, with_speed, car):
    names = [*SETS[which], *(["speed"] if with_speed else [])]
    log = fleet[car].with_channels(tuple(names))
    assert found_in(log.recording(), log.car) == []


@pytest.mark.parametrize("way", ["flat", "clipped", "spikes", "gap", "clock_reset", "sign"])
@pytest.mark.parametrize("which", ["travel and body", "four body", "one body over each axle"])
def test_faults_of_one_channel_are_named_in_every_set(fleet, which, way):
    log = fleet[1].with_channels((*SETS[which], "speed"))
    broken = break_log(log.recording(), way, np.random.default_rng([3, *way.encode()]))
    assert found_in(broken.raw, log.car) == [(broken.code, broken.channels)]


@pytest.mark.parametrize("name", SETS["travel"])
def test_a_sign_among_travel_sensors_alone_is_told_by_the_road(fleet, name):
    raw = fleet[0].with_channels((*SETS["travel"], "speed")).recording()
    channels = {**raw.channels, name: -raw.channels[name]}
    broken = type(raw)(time_s=raw.time_s, channels=channels, source=raw.source)
    assert found_in(broken, fleet[0].car) == [("sign", (name,))]


@pytest.mark.parametrize("pair", [("travel_fl", "travel_rl"), ("travel_fr", "travel_rl")])
def test_front_and_rear_travel_exchanged_is_told_by_the_road(fleet, pair):
    raw = fleet[0].with_channels((*SETS["travel"], "speed")).recording()
    first, second = pair
    channels = {**raw.channels, first: raw.channels[second], second: raw.channels[first]}
    broken = type(raw)(time_s=raw.time_s, channels=channels, source=raw.source)
    assert found_in(broken, fleet[0].car) == [("swapped", pair)]


def test_front_and_rear_exchanged_among_two_body_sensors_is_told_by_the_road(fleet):
    raw = fleet[0].with_channels((*SETS["one body over each axle"], "speed")).recording()
    channels = {
        **raw.channels,
        "body_fl": raw.channels["body_rl"],
        "body_rl": raw.channels["body_fl"],
    }
    broken = type(raw)(time_s=raw.time_s, channels=channels, source=raw.source)
    assert found_in(broken, fleet[0].car) == [("swapped", ("body_fl", "body_rl"))]


@pytest.mark.parametrize("axle", ["f", "r"])
def test_left_and_right_hubs_exchanged_are_told_by_the_bodies_above_them(fleet, axle):
    raw = fleet[0].with_channels((*SETS["body and hub"], "speed")).recording()
    pair = (f"hub_{axle}l", f"hub_{axle}r")
    channels = {
        **raw.channels,
        pair[0]: raw.channels[pair[1]],
        pair[1]: raw.channels[pair[0]],
    }
    broken = type(raw)(time_s=raw.time_s, channels=channels, source=raw.source)
    assert found_in(broken, fleet[0].car) == [("swapped", pair)]


def test_a_gain_among_travel_sensors_alone_names_both_sides(fleet):
    raw = fleet[0].with_channels((*SETS["travel"], "speed")).recording()
    channels = {**raw.channels, "travel_rr": 1.3 * raw.channels["travel_rr"]}
    broken = type(raw)(time_s=raw.time_s, channels=channels, source=raw.source)
    assert found_in(broken, fleet[0].car) == [("scale", ("travel_rl", "travel_rr"))]


def altered(fleet, which, name, change):
    """A log of the first car with one channel changed."""
    raw = fleet[0].with_channels((*SETS[which], "speed")).recording()
    channels = {**raw.channels, name: change(raw.channels[name])}
    return type(raw)(time_s=raw.time_s, channels=channels, source=raw.source)


@pytest.mark.parametrize("gain", [0.8, 1.25])
@pytest.mark.parametrize("name", ["travel_fl", "travel_rr", "body_fr"])
def test_a_gain_among_travel_and_body_is_told_by_the_springs(fleet, name, gain):
    rest = 9.80665 if name.startswith("body") else 0.0
    broken = altered(fleet, "travel and body", name, lambda x: rest + (x - rest) * gain)
    assert found_in(broken, fleet[0].car) == [("scale", (name,))]


@pytest.mark.parametrize("name", ["travel_fr", "travel_rl", "body_rr"])
def test_a_delay_among_travel_and_body_is_told_by_the_forces(fleet, name):
    late = altered(fleet, "travel and body", name, lambda x: np.r_[np.full(7, x[0]), x[:-7]])
    problems = prepare(late, fleet[0].car).problems
    assert [(p.code, p.channel, p.mended) for p in problems] == [("late", name, True)]
    sound = fleet[0].with_channels((*SETS["travel and body"], "speed")).recording()
    before = late.channels[name] - sound.channels[name]
    mended = prepare(late, fleet[0].car).recording.channels[name]
    after = mended - prepare(sound, fleet[0].car).recording.channels[name]
    assert np.std(after) < 0.5 * np.std(before)


@pytest.mark.parametrize(
    ("name", "gain"),
    [("hub_fl", 0.8), ("hub_rl", 1.25), ("hub_rr", 0.8), ("body_fr", 0.8), ("body_fr", 1.25)],
)
def test_a_gain_among_hubs_and_body_is_told_by_the_springs(longer, name, gain):
    broken = altered(longer, "body and hub", name, lambda x: 9.80665 + (x - 9.80665) * gain)
    assert found_in(broken, longer[0].car) == [("scale", (name,))]


@pytest.mark.parametrize("name", ["hub_fr", "hub_rl", "body_rr"])
def test_a_delay_among_hubs_and_body_is_told_by_the_forces(longer, name):
    late = altered(longer, "body and hub", name, lambda x: np.r_[np.full(7, x[0]), x[:-7]])
    problems = prepare(late, longer[0].car).problems
    assert [(p.code, p.channel, p.mended) for p in problems] == [("late", name, True)]


def exchanged(log, which, pair):
    raw = log.with_channels((*SETS[which], "speed")).recording()
    first, second = pair
    channels = {**raw.channels, first: raw.channels[second], second: raw.channels[first]}
    return type(raw)(time_s=raw.time_s, channels=channels, source=raw.source)


@pytest.mark.parametrize("car", range(3))
@pytest.mark.parametrize("pair", [("body_fl", "body_rr"), ("body_rl", "body_rr")])
@pytest.mark.parametrize("which", ["travel and body", "body and hub"])
def test_body_sensors_exchanged_are_told_by_the_forces_on_bodies_that_twist_too(
    fleet, which, pair, car
):
    assert found_in(exchanged(fleet[car], which, pair), fleet[car].car) == [("swapped", pair)]


def test_body_sensors_of_opposite_corners_exchanged_are_told_by_the_road(fleet):
    broken = exchanged(fleet[0], "four body", ("body_fr", "body_rl"))
    assert found_in(broken, fleet[0].car) == [("swapped", ("body_fr", "body_rl"))]


@pytest.mark.parametrize("name", ["travel_fr", "travel_rl"])
def test_a_delay_among_travel_alone_is_told_by_the_other_side(longer, name):
    late = altered(longer, "travel", name, lambda x: np.r_[np.full(8, x[0]), x[:-8]])
    (problem,) = prepare(late, longer[0].car).problems
    assert (problem.code, problem.channel, problem.mended) == ("late", name, True)
    assert "runs ahead, no other sensor tells which" in problem.text


@pytest.mark.parametrize("car", range(3))
def test_inches_for_millimetres_among_travel_alone_name_the_one_sensor(fleet, car):
    raw = fleet[car].with_channels((*SETS["travel"], "speed")).recording()
    channels = {**raw.channels, "travel_rl": raw.channels["travel_rl"] / 25.4}
    broken = type(raw)(time_s=raw.time_s, channels=channels, source=raw.source)
    assert found_in(broken, fleet[car].car) == [("unit", ("travel_rl",))]
