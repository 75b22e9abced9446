"""Fleets: wide ranges, the promised channels, the same for the same seed."""

from __future__ import annotations

import json

import numpy as np
import pytest

from ridelog.simulate.drive import Push, push_force_n
from ridelog.simulate.fleet import SITUATIONS, fleet_scenes, simulate_fleet
from ridelog.simulate.log import next_scene, simulate_logs
from ridelog.simulate.truth import truth_of

CARS = 200


@pytest.fixture(scope="module")
def scenes():
    return fleet_scenes("nonlinear", seed=5, count=CARS)


@pytest.fixture(scope="module")
def short_fleets():
    """Two cars in each of several situations, all in one batch."""
    wanted = ("nonlinear", "bounce", "dirty", "two_accel", "travel_only", "accel", "unkind")
    fleets = [fleet_scenes(name, seed=1, count=2, duration_s=16.0) for name in wanted]
    logs = simulate_logs([scene for fleet in fleets for scene in fleet])
    return {name: logs[2 * k : 2 * k + 2] for k, name in enumerate(wanted)}


@pytest.mark.parametrize(
    ("quantity", "low", "high"),
    [
        ("spring_frequency_hz", 1.0, 2.3),
        ("damping_ratio", 0.1, 0.8),
        ("friction_n", 15.0, 70.0),
    ],
)
def test_cars_fill_the_stated_range_and_no_more(scenes, quantity, low, high):
    values = np.array(
        [getattr(t, quantity) for s in scenes for t in truth_of(s.car).axles.values()]
    )
    assert values.min() >= low * 0.999
    assert values.max() <= high * 1.001
    span = high - low
    assert values.min() < low + 0.05 * span
    assert values.max() > high - 0.05 * span


def test_rebound_is_up_to_two_and_a_half_times_bump(scenes):
    axles = [t for s in scenes for t in truth_of(s.car).axles.values()]
    split = np.array([a.damping_ratio_rebound / a.damping_ratio_bump for a in axles])
    assert split.min() >= 0.99
    assert split.max() <= 2.61
    assert np.ptp(split) > 1.3


def test_catalogue_springs_are_some_four_percent_off(scenes):
    errors = np.log([s.car.stated.spring_rate for s in scenes])
    assert np.std(errors) == pytest.approx(0.04, rel=0.15)


def test_tired_side_is_one_damper_of_four():
    for scene in fleet_scenes("side", seed=2, count=20):
        ratios = [c.damping_ratio for c in truth_of(scene.car).corners.values()]
        shares = sorted([ratios[0] / ratios[1], ratios[2] / ratios[3]], key=lambda r: abs(r - 1))
        assert shares[0] == pytest.approx(1.0)
        assert 0.29 < min(shares[1], 1 / shares[1]) < 0.71


def test_roads_are_of_all_classes_and_speeds_change(scenes):
    letters = {truth_of(s.car, road=s.drive.road).road.iso8608_class for s in scenes}
    assert letters == {"A", "B", "C", "D"}
    assert all(len(s.drive.forward) >= 3 and s.drive.sideways for s in scenes)


def test_channels_are_the_situations(short_fleets):
    for name, logs in short_fleets.items():
        for log in logs:
            assert tuple(log.channels) == SITUATIONS[name].channels
            finite = [np.isfinite(v).mean() > 0.9 for v in log.channels.values()]
            assert all(finite), name


def test_same_seed_same_log_whatever_the_count(short_fleets):
    again = simulate_fleet("nonlinear", seed=1, count=1, duration_s=16.0)[0]
    first = short_fleets["nonlinear"][0]
    assert again.truth == first.truth
    for name, values in first.channels.items():
        # The batched matrix product may round otherwise; a converter step apart at most.
        near = np.mean(np.abs(again.channels[name] - values) < 1e-9)
        assert near > 0.999, name


def test_next_run_has_the_same_sensors_and_road_but_other_noise(short_fleets):
    before = short_fleets["nonlinear"][0]
    again = simulate_logs([next_scene(before.scene, seed=99)])[0]
    # Two runs' noise apart: 0.15 mm and a converter step; 300 ug/rtHz over 250 Hz.
    for name, spread in (("travel_fl", 0.25e-3), ("body_rr", 0.068)):
        difference = again.channels[name] - before.channels[name]
        assert 0.5 * spread < difference.std() < 1.3 * spread
        # Offsets of 0.03 g would show at once.
        assert abs(difference.mean()) < 0.1 * spread
    turned = next_scene(before.scene, seed=99, front=0)
    assert turned.car.front.clicks == (0, 0)
    assert turned.car.rear.clicks == before.true_car.rear.clicks


def test_other_seed_other_car():
    one, two = (fleet_scenes("nonlinear", seed=s, count=1)[0].car for s in (1, 2))
    assert one.front.sprung_mass_kg != two.front.sprung_mass_kg


def test_log_starts_with_a_standing_car(short_fleets):
    log = short_fleets["nonlinear"][0]
    standing = log.time_s < 3.9
    assert log.channels["speed"][standing].max() == 0.0
    assert log.channels["speed"].max() > 5.0
    assert np.std(log.channels["travel_fl"][standing]) < 0.5e-3
    gravity = log.channels["body_fl"][standing].mean()
    assert gravity == pytest.approx(9.80665, abs=1.2)


def test_dirty_clock_jitters_and_loses(short_fleets):
    for log in short_fleets["dirty"]:
        steps = np.diff(log.time_s)
        assert steps.max() > 0.03
        assert np.std(steps[steps < 0.01]) > 1e-4
        assert any(np.isnan(v).any() for v in log.channels.values())


def test_columns_are_canonical(short_fleets):
    log = short_fleets["nonlinear"][0]
    columns = log.columns
    assert list(columns)[:2] == ["time_s", "travel_fl_mm"]
    assert list(columns)[-1] == "speed_mps"
    np.testing.assert_allclose(columns["travel_rr_mm"], log.channels["travel_rr"] * 1000)
    raw = log.recording()
    assert raw.columns["hub_fl"] == "hub_fl_mps2"
    assert raw.units["travel_fl"] == "mm"
    assert raw.channels["travel_fl"] is log.channels["travel_fl"]


def test_truth_is_plain_json(short_fleets):
    truth = short_fleets["nonlinear"][1].truth
    assert json.loads(json.dumps(truth.as_json()))["axles"]["front"]["friction_n"] > 0


def test_bounced_body_rings_after_each_release(short_fleets):
    for log in short_fleets["bounce"]:
        body = log.channels["body_fl"] - np.median(log.channels["body_fl"])
        assert np.abs(body[log.time_s > 4]).max() > 5 * np.std(body[log.time_s < 3.5])


def test_push_holds_then_lets_go():
    push = Push(
        start_s=1.0,
        force_n=500.0,
        ahead_m=0.0,
        left_m=0.0,
        pumps=2,
        period_s=0.8,
        hold_s=0.5,
        release_s=0.1,
    )
    # Two strokes to 2.6 s, pressed to 3.0, held to 3.5, gone at 3.6.
    force = push_force_n(push, np.array([0.9, 1.4, 1.8, 3.0, 3.45, 3.55, 3.65]))
    np.testing.assert_allclose(force, [0, -500, 0, -500, -500, -250, 0], atol=1e-9)


def test_batch_wants_equal_lengths():
    scenes = [
        *fleet_scenes("nonlinear", seed=1, count=1, duration_s=5.0),
        *fleet_scenes("nonlinear", seed=1, count=1, duration_s=6.0),
    ]
    with pytest.raises(ValueError, match="equally long"):
        simulate_logs(scenes)
