"""Few-sensor estimates on simulated cars with known truth, and on logs that cannot tell."""

from dataclasses import replace

import numpy as np
import pytest

from ridelog.condition.prepare import prepare
from ridelog.estimate.few_sensor_fit import fit_few_sensors
from ridelog.estimate.few_sensor_results import axle_results
from ridelog.estimate.spectral_fit import (
    axle_numbers,
    axle_signals,
    travel_only_results,
    two_body_results,
)
from ridelog.estimate.whole_car import whole_car_result
from ridelog.recording import AXLES, TRAVEL_CHANNELS
from ridelog.simulate.fleet import simulate_fleet


@pytest.fixture(scope="module")
def drive():
    """One prepared drive with travel and body sensors."""
    (log,) = simulate_fleet("linear", seed=211, count=1, duration_s=90.0)
    prepared = prepare(log.recording(), log.car)
    return prepared.recording, log.car, log.truth.axles


def only(recording, *names):
    return replace(recording, channels={name: recording.channels[name] for name in names})


def assert_tells(results, truth, *, frequency, damping):
    for axle in AXLES:
        for key, tolerance in (("body_frequency_hz", frequency), ("damping_ratio", damping)):
            estimate, true = getattr(results[axle], key), getattr(truth[axle], key)
            assert estimate.value == pytest.approx(true, rel=tolerance), (axle, key)
            assert estimate.low < true < estimate.high, (axle, key)
        hop = results[axle].wheel_hop_hz
        assert hop.value == pytest.approx(truth[axle].wheel_hop_hz, rel=0.05)


@pytest.mark.slow
def test_travel_only_recovers_both_axles(drive):
    recording, car, truth = drive
    results, curves, notes = travel_only_results(only(recording, *TRAVEL_CHANNELS), car)
    assert_tells(results, truth, frequency=0.06, damping=0.30)
    assert {curve.place for curve in curves} == set(AXLES)
    assert results["front"].friction_n is None
    assert any("friction" in note for note in notes)


@pytest.mark.slow
def test_two_body_sensors_recover_both_axles(drive):
    recording, car, truth = drive
    results, _, _ = two_body_results(only(recording, "body_fl", "body_rl"), car)
    assert_tells(results, truth, frequency=0.06, damping=0.45)


@pytest.mark.slow
def test_spring_rate_in_the_car_file_is_not_used(drive):
    recording, car, _ = drive
    less = only(recording, "travel_fl", "travel_rl")
    other = replace(
        car, front=replace(car.front, spring_rate_n_per_m=car.front.spring_rate_n_per_m * 1.5)
    )
    first = travel_only_results(less, car)[0]["front"]
    second = travel_only_results(less, other)[0]["front"]
    assert first.body_frequency_hz == second.body_frequency_hz
    stated = (1 + first.catalogue_spring_error.value) / (1 + second.catalogue_spring_error.value)
    assert stated == pytest.approx(1.5, rel=1e-9)


@pytest.mark.slow
def test_one_sensor_tells_the_bounce_of_the_whole_car(drive):
    recording, car, truth = drive
    result, curves, _ = whole_car_result(only(recording, "body_fl", "body_rl"), car)
    frequencies_hz = [truth[axle].body_frequency_hz for axle in AXLES]
    bounce = result.bounce_frequency_hz
    assert bounce.low < max(frequencies_hz)
    assert bounce.high > min(frequencies_hz)
    assert bounce.high / bounce.low < 2.5
    assert curves[0].place == "body"


def test_noise_is_no_car(drive):
    recording, car, _ = drive
    noise = np.random.default_rng(8).standard_normal((2, recording.sample_count))
    channels = {"body_fl": noise[0], "body_rl": noise[1]}
    results, _, notes = two_body_results(replace(recording, channels=channels), car)
    for axle in AXLES:
        assert results[axle].body_frequency_hz is None
        assert results[axle].damping_ratio is None
        assert results[axle].wheel_hop_hz is None
    assert any("body frequency" in note or "Front and rear" in note for note in notes)


def test_missing_axle_short_and_slow_logs_say_why(drive):
    recording, car, _ = drive
    _, _, notes = two_body_results(only(recording, "body_fl", "body_fr"), car)
    assert "at least one body accelerometer at each axle" in notes[0]
    count = 8000
    short = replace(
        only(recording, "body_fl", "body_rl"),
        channels={name: recording.channels[name][:count] for name in ("body_fl", "body_rl")},
        valid=recording.valid[:count],
    )
    _, _, notes = two_body_results(short, car)
    assert "steady driving: needs 24 s" in notes[0]
    slow = replace(only(recording, "body_fl", "body_rl"), sample_rate_hz=16.7)
    assert "sampled at 16.7 Hz" in two_body_results(slow, car)[2][0]
    whole, _, notes = whole_car_result(slow, car)
    assert whole.bounce_frequency_hz is None
    assert "sampled at 16.7 Hz" in notes[0]


def test_sensors_on_opposite_sides_are_paired_as_a_diagonal(drive):
    recording, _, _ = drive
    pairs, modes = axle_signals(only(recording, "travel_fr", "travel_rl"), "travel")
    assert modes == ("diagonal",)
    np.testing.assert_array_equal(pairs[0][0], recording.channels["travel_fr"])
    assert axle_signals(recording, "body")[1] == ("mean", "difference")


@pytest.mark.slow
def test_a_fit_against_all_that_is_believed_says_less_or_nothing(drive):
    recording, car, _ = drive
    pairs, modes = axle_signals(only(recording, "body_fl", "body_rl"), "body")
    fit = fit_few_sensors(
        pairs,
        modes,
        recording.valid,
        sample_rate_hz=recording.sample_rate_hz,
        axles=tuple(axle_numbers(axle, car, travel=False) for axle in (car.front, car.rear)),
        wheelbase_m=car.wheelbase_m,
        travel=False,
    )
    level = fit.model.index["level_0"]
    moved = (fit.fit.parameters - fit.prior.mean) / fit.prior.sd
    assert 0 < fit.tension < np.sum(np.delete(moved, level) ** 2) + 1e-9  # delays are left out too

    def width(tension):
        told = axle_results(replace(fit, tension=tension), method="fit")[0]["front"]
        return np.log(told.body_frequency_hz.high / told.body_frequency_hz.low)

    assert width(10.0) == width(25.0)
    assert width(60.0) > 1.2 * width(25.0)
    results, notes = axle_results(replace(fit, tension=100.0), method="fit")
    assert results["front"].body_frequency_hz is None
    assert any("unlike any known" in note for note in notes)
