"""One axle pushed down and let go, simulated apart from the package, and what is told of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from ridelog.car.description import Axle, Car
from ridelog.errors import NotEnoughDataError
from ridelog.estimate.decay_prior import AxleNumbers
from ridelog.estimate.decay_release import ReleaseSettings, block_means, find_pushes, rest_noise
from ridelog.estimate.drive import estimate_log
from ridelog.estimate.free_decay import bounce_results, free_decay
from ridelog.recording import Recording, Source

pytestmark = pytest.mark.slow

RATE_HZ = 250.0
DURATION_S = 24.0
RELEASES_S = (3.3, 9.3, 15.3, 21.3)  # hands are off 0.08 s later
NOISE_M_PER_S2 = 0.03


@dataclass(frozen=True)
class Corner:
    mass_kg: float = 250.0
    unsprung_kg: float = 37.5
    rate: float = 63.3 * 250.0
    tyre: float = 653 * 250.0
    damping: float = 6 * 250.0
    friction_n: float = 25.0  # no axle is without; the truths below leave it out


def hand_n(time_s):
    """Pushed down in time with the car, let go at the bottom, off within 0.08 s."""
    for release in RELEASES_S:
        since = time_s - (release - 1.3)
        if 0 < since < 1.38:
            fade = min(max((time_s - release) / 0.08, 0), 1)
            return -400.0 * (1 - math.cos(2 * math.pi * since / 0.87)) / 2 * (1 - fade)
    return 0.0


def accelerometer(corner, seed, push=hand_n):
    def slope(time_s, state):
        z, u, dz, du = state
        v = du - dz
        dry = corner.friction_n * math.tanh(v / 0.002)
        force = corner.rate * (u - z) + corner.damping * v + dry
        body = (force + push(time_s)) / corner.mass_kg
        return [dz, du, body, (-force - corner.tyre * u) / corner.unsprung_kg]

    times = np.arange(0, DURATION_S, 1 / RATE_HZ)
    motion = solve_ivp(
        slope,
        (0, DURATION_S),
        np.zeros(4),
        t_eval=times,
        rtol=1e-6,
        atol=1e-7,
        method="LSODA",
        max_step=0.01,
    )
    body = np.array([slope(t, s)[2] for t, s in zip(times, motion.y.T, strict=True)])
    return body + NOISE_M_PER_S2 * np.random.default_rng(seed).standard_normal(times.size)


def stated(corner, spring_error=0.05):
    return AxleNumbers(
        sprung_mass_kg=corner.mass_kg,
        unsprung_mass_kg=corner.unsprung_kg,
        wheel_rate_n_per_m=corner.rate * (1 + spring_error),
        motion_ratio=1.0,
        tyre_rate_n_per_m=corner.tyre,
    )


@pytest.fixture(scope="module")
def reference_car():
    # The reference quarter car of World Bank Technical Paper 45, as a bounce test.
    corner = Corner()
    signal = accelerometer(corner, seed=1)
    return free_decay(signal, None, RATE_HZ, (stated(corner), stated(corner)))


def test_reference_quarter_car_is_measured(reference_car):
    front = reference_car.front
    # ride rate 63.3 x 653 / 716.3 per kg; 6 / (2 sqrt(63.3)); decay ratio x (653 / 716.3)^1.5
    assert front.body_frequency_hz.value == pytest.approx(1.2090, rel=0.02)
    assert front.damping_ratio.value == pytest.approx(0.3771, rel=0.08)
    assert front.decay_damping_ratio.value == pytest.approx(0.3283, rel=0.08)
    assert front.wheel_rate_n_per_m.value == pytest.approx(63.3 * 250, rel=0.04)


def test_intervals_hold_the_truth_and_are_useful(reference_car):
    for found, truth, widest in (
        (reference_car.front.body_frequency_hz, 1.2090, 0.05),
        (reference_car.front.damping_ratio, 0.3771, 0.20),
    ):
        assert found.low < truth < found.high
        assert found.high - found.low < 2 * widest * truth


def test_wrong_spring_in_the_car_file_is_found(reference_car):
    error = reference_car.front.catalogue_spring_error
    assert error.value == pytest.approx(1 / 1.05 - 1, abs=0.04)
    assert error.low < 1 / 1.05 - 1 < error.high


def test_decays_start_when_hands_are_off(reference_car):
    starts = np.array([decay.start_s for decay in reference_car.decays])
    assert len(starts) == len(RELEASES_S)
    late = starts - np.array(RELEASES_S)
    assert (late > 0.0).all()
    assert (late < 0.5).all()


def test_lightly_damped_axle_starts_at_its_release_too():
    # Its second swing is nearly as high as the first: the last great rise is not the letting go.
    corner = replace(Corner(), damping=420.0, friction_n=15.0)
    signal = accelerometer(corner, seed=8)
    result = free_decay(signal, None, RATE_HZ, (stated(corner), stated(corner)))
    late = np.array([decay.start_s for decay in result.decays]) - np.array(RELEASES_S)
    assert len(late) == len(RELEASES_S)
    assert (late > 0.0).all()
    assert (late < 0.35).all()


def test_axle_without_a_sensor_is_not_guessed(reference_car):
    assert reference_car.rear.body_frequency_hz is None
    assert reference_car.rear.damping_ratio is None
    assert any(remark.startswith("rear axle") for remark in reference_car.remarks)


def test_friction_is_told_apart_from_damping():
    corner = replace(Corner(), friction_n=45.0, damping=1000.0)
    signal = accelerometer(corner, seed=2)
    front = free_decay(signal, None, RATE_HZ, (stated(corner), stated(corner))).front
    assert front.friction_n.value == pytest.approx(45.0, abs=6.0)
    ratio = 1000.0 / (2 * np.sqrt(corner.rate * corner.mass_kg))
    assert front.damping_ratio.low < ratio < front.damping_ratio.high
    assert front.damping_ratio.value == pytest.approx(ratio, rel=0.12)


def test_axle_locked_by_friction_is_left_out():
    corner = replace(Corner(), friction_n=900.0)
    signal = accelerometer(corner, seed=3)
    with pytest.raises(NotEnoughDataError, match="decays after a push"):
        free_decay(signal, None, RATE_HZ, (stated(corner), stated(corner)))


def test_car_at_rest_has_no_decay():
    quiet = NOISE_M_PER_S2 * np.random.default_rng(4).standard_normal(5000)
    with pytest.raises(NotEnoughDataError, match="decays after a push"):
        free_decay(quiet, quiet, RATE_HZ, (stated(Corner()), stated(Corner())))


def test_pushes_and_noise_are_counted():
    signal = accelerometer(Corner(), seed=5)
    blocks = block_means(signal[None], np.ones(signal.size, bool), RATE_HZ, 0.008)
    settings = ReleaseSettings()
    noise = rest_noise(blocks, settings)
    assert noise[0] == pytest.approx(NOISE_M_PER_S2 / np.sqrt(2), rel=0.1)
    pushes = find_pushes(blocks, noise, settings)
    assert len(pushes) == len(RELEASES_S)


def bounce_log(channels):
    size = len(next(iter(channels.values())))
    return Recording(
        sample_rate_hz=RATE_HZ,
        channels=channels,
        valid=np.ones(size, bool),
        source=Source(file="bounce.csv", layout="canonical"),
    )


def made_up_car(corner):
    axle = Axle(
        layout="independent",
        track_m=1.5,
        sprung_mass_kg=2 * corner.mass_kg,
        unsprung_mass_kg=2 * corner.unsprung_kg,
        spring_rate_n_per_m=corner.rate,
        motion_ratio=1.0,
        tyre_rate_n_per_m=corner.tyre,
    )
    return Car(name="made up", wheelbase_m=2.6, front=axle, rear=axle)


def test_log_of_one_axle_says_what_is_missing():
    corner = Corner()
    recording = bounce_log({"body_rl": accelerometer(corner, seed=6)})
    axles, curves, notes = bounce_results(recording, made_up_car(corner))
    assert list(axles) == ["rear"]
    found = axles["rear"].body_frequency_hz
    assert found.low < 1.2090 < found.high
    assert found.value == pytest.approx(1.2090, rel=0.03)
    assert {curve.place for curve in curves} == {"rear"}
    assert notes[-1] == (
        "front axle: no body accelerometer over it, so the bounce test cannot tell about it"
    )


def test_bounce_log_of_the_cabin_alone_tells_no_number():
    # A drive with this sensor tells the whole car's bounce, by the road; a standing car has none.
    corner = Corner()
    cabin = accelerometer(corner, seed=7)
    recording = bounce_log({"cabin": cabin, "speed": np.zeros(cabin.size)})
    result = estimate_log(recording, made_up_car(corner))
    assert result.log.kind == "bounce"
    assert result.whole_car.bounce_frequency_hz is None
    assert result.whole_car.bounce_damping_ratio is None
    assert any("a body accelerometer over each" in note for note in result.notes)
