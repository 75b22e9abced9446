"""Rate at ride height from drives on springs whose rate changes with travel."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.car.springs import HelperSpring, SpringStack, spring_load_n, with_stack
from ridelog.condition.prepare import prepare
from ridelog.estimate.changing_rate import at_ride_height
from ridelog.estimate.drive import estimate_log
from ridelog.estimate.result import AxleResult, Estimate
from ridelog.recording import CORNERS, Recording, Source
from ridelog.simulate.fleet import fleet_scenes
from ridelog.simulate.log import simulate_logs
from tests.advise import builders

NOW = 325 * builders.LBF_PER_IN


def recording_of(travel: np.ndarray) -> Recording:
    return Recording(
        sample_rate_hz=500.0,
        channels={f"travel_{corner}": travel for corner in CORNERS},
        valid=np.ones(len(travel), dtype=bool),
        source=Source(file="made_up.csv", layout="canonical", rows_read=len(travel)),
    )


def estimate(value: float) -> Estimate:
    return Estimate(value=value, low=0.98 * value, high=1.02 * value)


def test_mean_rate_of_a_rising_spring_is_that_at_the_mean_travel() -> None:
    """Rate k (1 + x / 250 mm) about ride height: 10 mm of mean travel is 4 % more rate.

    By Stein's lemma the line through a bent force has the mean of its slope where travel is normal.
    """
    load = spring_load_n(builders.axle())
    squash = 0.15
    standing = load / (squash - squash**2 / 0.5)  # load of k (1 + (s - 0.15) / 0.25) at s = 0.15
    points = ((0.0, standing * (1 - squash / 0.25)), (0.25, standing * (1 + 0.1 / 0.25)))
    axle = with_stack(
        builders.axle(), SpringStack(stated_rate_n_per_m=standing, rate_points=points)
    )
    assert axle.spring_rate_n_per_m == pytest.approx(standing, rel=1e-6)
    travel = 0.01 + np.random.default_rng(3).normal(0, 0.008, 20_000)
    result = AxleResult(
        method="made up",
        wheel_rate_n_per_m=estimate(1.04 * standing * 0.49),
        body_frequency_hz=estimate(1.2),
        spring_frequency_hz=estimate(1.3),
        damping_ratio=estimate(0.3),
        catalogue_spring_error=Estimate(value=0.04, low=0.02, high=0.06),
    )
    found, notes = at_ride_height({"front": result}, recording_of(travel), builders.car(axle))
    front = found["front"]
    assert front.wheel_rate_n_per_m is not None
    assert front.wheel_rate_n_per_m.value == pytest.approx(standing * 0.49, rel=2e-3)
    # 2 % of its own and four fifths of 4 %
    width = front.wheel_rate_n_per_m.high / front.wheel_rate_n_per_m.value - 1
    assert width == pytest.approx(np.hypot(0.02, 0.032), rel=0.05)
    assert front.catalogue_spring_error is not None
    assert front.catalogue_spring_error.value == pytest.approx(0.0, abs=2e-3)
    # (1.2 / 1.3)^2 = 0.852 of the change goes into ride rate, half of that into frequency.
    assert front.body_frequency_hz is not None
    assert front.body_frequency_hz.value == pytest.approx(1.2 / 1.0341**0.5, rel=1e-3)
    assert front.damping_ratio is not None
    assert front.damping_ratio.value == pytest.approx(0.3 * 1.04**0.5, rel=1e-3)
    assert "4.0 % higher than at ride height" in notes[0]


def test_springs_of_one_rate_are_left_alone_and_unseen_travel_widens() -> None:
    result = AxleResult(method="made up", wheel_rate_n_per_m=estimate(28e3))
    blind = replace(recording_of(np.zeros(10)), channels={})
    assert at_ride_height({"front": result}, blind, builders.car()) == ({"front": result}, ())
    load = spring_load_n(builders.axle())
    near = HelperSpring(rate_n_per_m=40e3, travel_m=(load - 100) / 40e3)
    axle = with_stack(builders.axle(), SpringStack(stated_rate_n_per_m=NOW, helper=near))
    found, notes = at_ride_height({"front": result}, blind, builders.car(axle))
    rate = found["front"].wheel_rate_n_per_m
    assert rate is not None
    assert rate.value == 28e3
    assert rate.low < 0.6 * 28e3  # below the cross-over the stack has 23.5 of 56.9 N/mm
    assert "no travel" in notes[0]


@pytest.mark.slow
def test_a_drive_on_progressive_springs_gives_the_rate_at_ride_height() -> None:
    """Simulated car whose springs gain half of their rate within 50 mm of bump."""
    (scene,) = fleet_scenes("usual", seed=262, count=1, duration_s=40.0)

    def rising(axle):
        return replace(axle, spring_rise_n_per_m2=axle.spring_rate_n_per_m * 10)

    car = replace(scene.car, front=rising(scene.car.front), rear=rising(scene.car.rear))
    (log,) = simulate_logs([replace(scene, car=car)])

    def described(axle, true):
        """Constant up to 40 mm before ride height, then as simulated."""
        low, at = 0.6 * true.spring_rate_n_per_m, spring_load_n(axle)
        begin = (at - 0.8 * true.spring_rate_n_per_m * 0.04) / low
        points = ((0.0, low), (begin, low), (begin + 0.1, true.spring_rate_n_per_m * 1.6))
        stack = SpringStack(stated_rate_n_per_m=true.spring_rate_n_per_m, rate_points=points)
        return with_stack(axle, stack)

    stated = replace(
        log.car, front=described(log.car.front, car.front), rear=described(log.car.rear, car.rear)
    )
    recording = prepare(log.recording(), stated).recording
    plain, found = estimate_log(recording, log.car), estimate_log(recording, stated)
    errors = {"plain": 0.0, "found": 0.0}
    for name in ("front", "rear"):
        truth = log.truth.axles[name].body_frequency_hz
        for key, result in (("plain", plain), ("found", found)):
            frequency = result.axles[name].body_frequency_hz
            assert frequency is not None
            errors[key] = max(errors[key], abs(frequency.value / truth - 1))
            if key == "found":
                assert frequency.low <= truth <= frequency.high
    assert errors["found"] < max(0.6 * errors["plain"], 0.004)
