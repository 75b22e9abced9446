"""Road match on simulated cars with known truth, and on travel that shares no road."""

from dataclasses import replace

import numpy as np
import pytest

from ridelog.condition.prepare import prepare
from ridelog.errors import SignalError
from ridelog.estimate.road_match.fit import fit_road_match
from ridelog.estimate.road_match.results import METHOD, match_results, trusted
from ridelog.estimate.spectral_fit import travel_only_results
from ridelog.recording import AXLES, TRAVEL_CHANNELS
from ridelog.simulate.fleet import simulate_fleet

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def drive():
    """Travel of one prepared drive with digressive dampers and friction, car and truth."""
    (log,) = simulate_fleet("travel_only", seed=311, count=1, duration_s=75.0)
    recording = prepare(log.recording(), log.car).recording
    channels = {name: recording.channels[name] for name in TRAVEL_CHANNELS}
    return replace(recording, channels=channels), log.car, log.truth.axles


def test_travel_alone_tells_both_axles(drive):
    recording, car, truth = drive
    results, curves, notes = travel_only_results(recording, car)
    for axle in AXLES:
        assert results[axle].method == METHOD
        for key, tolerance in (
            ("body_frequency_hz", 0.03),
            ("damping_ratio", 0.20),
            ("damping_ratio_rebound", 0.25),
            ("wheel_hop_hz", 0.02),
        ):
            estimate, true = getattr(results[axle], key), getattr(truth[axle], key)
            assert estimate.value == pytest.approx(true, rel=tolerance), (axle, key)
            assert estimate.low < true < estimate.high, (axle, key)
        assert results[axle].friction_n is None
        assert results[axle].catalogue_spring_error is not None
    assert {curve.place for curve in curves} == set(AXLES)
    assert any("friction" in note for note in notes)


def test_stated_spring_rate_is_a_scale_only(drive):
    recording, car, _ = drive
    soft = replace(
        car,
        front=replace(car.front, spring_rate_n_per_m=0.8 * car.front.spring_rate_n_per_m),
        rear=replace(car.rear, spring_rate_n_per_m=1.25 * car.rear.spring_rate_n_per_m),
    )
    first, _ = match_results(fit_road_match(recording, car), car)
    second, _ = match_results(fit_road_match(recording, soft), soft)
    for axle in AXLES:
        frequency = second[axle].body_frequency_hz.value
        assert frequency == pytest.approx(first[axle].body_frequency_hz.value, rel=0.01)


def test_wheels_on_different_roads_are_not_matched(drive):
    recording, car, _ = drive
    channels = dict(recording.channels)
    for name in ("travel_rl", "travel_rr"):
        channels[name] = np.ascontiguousarray(channels[name][::-1])
    strange = replace(recording, channels=channels)
    try:
        match = fit_road_match(strange, car)
    except SignalError:
        return
    assert not trusted(match)
    results, _, _ = travel_only_results(strange, car)
    assert results["front"].method != METHOD
