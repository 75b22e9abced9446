"""Road match piece by piece: mechanics, volume element, delays and likelihood."""

import numpy as np
import pytest

from ridelog.car.description import Axle, Car
from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.estimate.road_match.delay import band_passed, follow_path, search_path
from ridelog.estimate.road_match.fit import fit_road_match
from ridelog.estimate.road_match.likelihood import (
    choose_blocks,
    mean_and_difference,
    mismatch_cost,
    mismatch_slope,
    whitening,
)
from ridelog.estimate.road_match.mechanics import log_determinant, road_per_travel
from ridelog.estimate.road_match.roads import make_warp
from ridelog.estimate.road_match.settings import BandSettings, PathSettings
from ridelog.recording import TRAVEL_CHANNELS, Recording, Source

RATE_HZ = 50.0
FRONT = Axle(
    layout="independent",
    track_m=1.50,
    sprung_mass_kg=760.0,
    unsprung_mass_kg=88.0,
    spring_rate_n_per_m=60e3,
    motion_ratio=0.65,
    tyre_rate_n_per_m=220e3,
)
REAR = Axle(
    layout="solid",
    track_m=1.46,
    damper_spacing_m=1.1,
    sprung_mass_kg=640.0,
    unsprung_mass_kg=150.0,
    spring_rate_n_per_m=42e3,
    motion_ratio=0.8,
    tyre_rate_n_per_m=240e3,
)
CAR = Car(name="two axles", wheelbase_m=2.7, front=FRONT, rear=REAR)
# Dynamic index, roll inertia, tyres, axle inertia in roll.
INERTIA = np.log([0.88, 420.0, 220e3, 240e3, 1.0, 0.62])
SLOPES = np.array([61e3, 3.1e3, 40e3, 2.2e3, 9e3, 4e3])


def travel_per_road(omega, *, roll):
    """Wheel travel per road height of the same car from its full mass and stiffness matrices."""
    index, roll_inertia, *tyres = np.exp(INERTIA)
    front, rear = CAR.front.sprung_mass_kg, CAR.rear.sprung_mass_kg
    total = front + rear
    arms = CAR.wheelbase_m * np.array([rear, -front]) / total
    if roll:
        # Unknowns: roll angle, wheel heights of the left side (the right side mirrors them).
        place = np.array([[FRONT.track_m / 2], [REAR.track_m / 2]])
        body = np.array([[roll_inertia / 2]])
        axle_share = np.exp(INERTIA[4:])
        levers = np.array([1.0, REAR.damper_spacing_m / REAR.track_m])
    else:
        # Unknowns: height of the centre of mass, pitch; half a car.
        place = np.stack([np.ones(2), arms], axis=1)
        pitch_inertia = index * total * abs(arms[0] * arms[1])
        body = np.diag([total / 2, pitch_inertia / 2])
        axle_share, levers = np.ones(2), np.ones(2)
    ratios = levers * np.array([FRONT.motion_ratio, REAR.motion_ratio])
    wheel = ratios**2 * (SLOPES[0:4:2] + 1j * omega * SLOPES[1:4:2])
    wheel = wheel + (SLOPES[4:] if roll else 0)
    size = body.shape[0]
    unsprung = axle_share * np.array([FRONT.unsprung_mass_kg, REAR.unsprung_mass_kg]) / 2
    stretch = np.hstack([-place, np.eye(2)])
    matrix = stretch.T @ np.diag(wheel) @ stretch
    matrix[size:, size:] += np.diag(tyres[:2])
    matrix[:size, :size] -= omega**2 * body
    matrix[size:, size:] -= omega**2 * np.diag(unsprung)
    load = np.vstack([np.zeros((size, 2)), np.diag(tyres[:2])])
    return stretch @ np.linalg.solve(matrix, load)


@pytest.mark.parametrize("mode", [0, 1], ids=["heave and pitch", "roll"])
def test_road_per_travel_inverts_a_car_on_its_tyres(mode):
    # Newton's equations of the whole car, assembled by virtual work: Lagrange's method, any text.
    omega = 2 * np.pi * np.array([0.8, 1.5, 4.0, 11.0])
    found = road_per_travel(CAR, INERTIA, SLOPES, omega, mode)
    for number, one in enumerate(omega):
        answer = travel_per_road(one, roll=mode == 1)
        np.testing.assert_allclose(found[number] @ answer, np.eye(2), atol=1e-9)


def test_volume_element_and_its_gradient():
    omega = 2 * np.pi * np.linspace(0.8, 12, 15)
    volume = log_determinant(CAR, INERTIA, SLOPES, omega)
    direct = -sum(
        2 * np.log(abs(np.linalg.det(travel_per_road(one, roll=roll))))
        for one in omega
        for roll in (False, True)
    )
    assert volume.value == pytest.approx(direct, rel=1e-9)
    steps = np.concatenate([1e-3 * SLOPES, np.full(6, 1e-3)])
    for number, step in enumerate(steps):
        move = np.zeros(12)
        move[number] = step
        high = log_determinant(CAR, INERTIA + move[6:], SLOPES + move[:6], omega).value
        low = log_determinant(CAR, INERTIA - move[6:], SLOPES - move[:6], omega).value
        assert volume.gradient[number] * step == pytest.approx((high - low) / 2, rel=0.01, abs=2e-4)


def test_warp_delays_a_sine_by_a_varying_time():
    time_s = np.arange(1000) / RATE_HZ
    delay_s = 0.2 + 0.05 * np.sin(0.4 * time_s)
    for frequency_hz in (1.3, 7.7, 12.0):
        tone = np.sin(2 * np.pi * frequency_hz * time_s)
        wanted = np.sin(2 * np.pi * frequency_hz * (time_s - delay_s))
        found = make_warp(delay_s, RATE_HZ).apply(tone)
        assert np.abs(found - wanted)[50:-50].max() < 0.03


def delayed_roads(delay_s, seed):
    """Two modes of band-limited noise and the same met later, with a little noise on top."""
    rng = np.random.default_rng(seed)
    count = len(delay_s)
    front = band_passed(rng.standard_normal((2, count)), RATE_HZ, (1.5, 10.0))
    rear = make_warp(delay_s, RATE_HZ).apply(front)
    return front, rear + 0.05 * rng.standard_normal((2, count)) * front.std()


def test_delay_is_found_through_changes_of_speed():
    time_s = np.arange(3000) / RATE_HZ
    speed = np.interp(time_s, [0, 20, 26, 40, 44, 60], [12, 12, 20, 20, 10, 10])
    truth_s = 2.7 / speed
    front, rear = delayed_roads(truth_s, seed=5)
    usable, settings = np.ones(3000, bool), PathSettings()
    path = search_path(front, rear, usable, RATE_HZ, (0.08, 0.45), settings)
    for _ in range(3):
        path = follow_path(path, front, rear, usable, RATE_HZ, settings)
    error = np.log(path.delay_s(3000, RATE_HZ) / truth_s)[100:-100]
    assert np.sqrt(np.mean(error**2)) < 0.01
    assert np.abs(error).max() < 0.05


def test_mismatch_slope_is_the_derivative_of_its_cost():
    rng = np.random.default_rng(3)
    band = BandSettings()
    signals = rng.standard_normal((2, 2, 4, 2500))
    blocks = choose_blocks(signals[0, 0, 0], np.zeros(2500, bool), 0.2, band)
    columns = mean_and_difference(*(blocks.transform(part) for part in signals))
    white = whitening(columns[:, :, 0], blocks, 0.48)
    slope = mismatch_slope(columns, white, blocks, 0.48)

    def cost(point):
        roads = columns[:, :, 0] + np.einsum("kmpbf,p->kmbf", columns[:, :, 1:], point)
        return mismatch_cost(roads, white, blocks, 0.48)

    steps = 1e-4 * np.eye(3)
    gradient = np.array([(cost(step) - cost(-step)) / 2e-4 for step in steps])
    np.testing.assert_allclose(slope.gradient, gradient, rtol=1e-4, atol=1e-4)
    bend = np.array([(cost(step) + cost(-step) - 2 * cost(0 * step)) / 1e-8 for step in steps])
    np.testing.assert_allclose(np.diag(slope.curvature), bend, rtol=2e-2)


def test_blocks_keep_clear_of_gaps_and_of_a_standing_car():
    road = np.random.default_rng(1).standard_normal(5000)
    road[:1000] *= 1e-4
    unusable = np.zeros(5000, bool)
    unusable[3000:3010] = True
    blocks = choose_blocks(road, unusable, 0.3, BandSettings())
    assert blocks.index.min() > 1000 - 256
    assert not unusable[blocks.index].any()
    with pytest.raises(NotEnoughDataError, match="steady driving"):
        choose_blocks(road, np.ones(5000, bool), 0.3, BandSettings())


def test_slow_log_is_refused_and_says_why():
    count = 4000
    travel = 0.01 * np.random.default_rng(2).standard_normal((4, count))
    recording = Recording(
        sample_rate_hz=50.0,
        channels=dict(zip(TRAVEL_CHANNELS, travel, strict=True)),
        valid=np.ones(count, bool),
        source=Source(file="slow.csv", layout="canonical"),
    )
    with pytest.raises(SignalError, match=r"sampled at 50\.0 Hz"):
        fit_road_match(recording, CAR)
