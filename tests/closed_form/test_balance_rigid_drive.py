"""The whole fit on a rigid car that scipy integrates here: no noise, no code of the package."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from ridelog.car.description import Axle, Car, Tolerances
from ridelog.estimate.balance.doubt import DEFAULT_DOUBT, random_deviation
from ridelog.estimate.balance.fit import fit_balance
from ridelog.estimate.balance.kinematics import body_delay_covariance, calibrate_kinematics
from ridelog.estimate.balance.quantities import axle_quantities, corner_forces_n
from ridelog.estimate.balance.signals import CornerSignals

RATE_HZ, LENGTH_S = 250.0, 24.0
MASS = np.array([700.0, 500.0])  # over each axle
RATIO = np.array([0.6, 0.6, 0.85, 0.85])
SPRING = np.array([42e3, 42e3, 30e3, 30e3])
BUMP, REBOUND = np.array([2500.0, 2500, 1500, 1500]), np.array([5000.0, 5000, 3500, 3500])
KNEE = 0.1  # above it the slope is a third
HALF_TRACK = np.array([0.75, 0.75, 0.7, 0.7])
SIDE = np.array([1, -1, 1, -1])
WHEELBASE = 2.6
# The centre of gravity lies nearer the heavier axle.
AHEAD = WHEELBASE * np.array([MASS[1], MASS[1], -MASS[0], -MASS[0]]) / MASS.sum()
BAR, PITCH, ROLL = 6000.0, 0.92, 420.0


def damper_n(speed):
    """Damper force with a knee on either side."""
    slope = np.where(speed > 0, BUMP[:, None], REBOUND[:, None])
    size = np.abs(speed)
    return np.sign(speed) * slope * (np.minimum(size, KNEE) + np.maximum(size - KNEE, 0) / 3)


def road():
    """Height, speed and acceleration of each wheel: many sines with unlike phases."""
    rng = np.random.default_rng(12)
    frequency = np.exp(rng.uniform(np.log(0.5), np.log(16), 60))
    phase = rng.uniform(0, 2 * np.pi, (4, 60))
    size = 0.012 / frequency ** rng.uniform(1.0, 1.3)

    def at(time):
        angle = 2 * np.pi * frequency * np.atleast_1d(time)[:, None, None] + phase
        omega = 2 * np.pi * frequency
        return (
            (size * np.sin(angle)).sum(-1).T,
            (size * omega * np.cos(angle)).sum(-1).T,
            -(size * omega**2 * np.sin(angle)).sum(-1).T,
        )

    return at


def motion():
    """Integrate heave, pitch and roll of the body over moving wheels."""
    wheels = road()
    pitch_inertia = PITCH * MASS.sum() * AHEAD[0] * -AHEAD[2]
    place = np.stack([np.ones(4), AHEAD, HALF_TRACK * SIDE])

    def accelerations(time, heights, rates):
        up, rate, acceleration = wheels(time)
        travel = RATIO[:, None] * (up - place.T @ heights)
        speed = RATIO[:, None] * (rate - place.T @ rates)
        force = SPRING[:, None] * travel + damper_n(speed)
        twist = np.zeros_like(force)
        twist[:2] = BAR * (travel[0] - travel[1]) * np.array([[1], [-1]])
        at_wheel = RATIO[:, None] * force
        lifted = np.stack(
            [
                at_wheel.sum(0) / MASS.sum(),
                (at_wheel * AHEAD[:, None]).sum(0) / pitch_inertia,
                (RATIO[:, None] * (force + twist) * (HALF_TRACK * SIDE)[:, None]).sum(0) / ROLL,
            ]
        )
        return lifted, travel, acceleration

    def derivative(time, state):
        lifted, _, _ = accelerations(time, state[:3, None], state[3:, None])
        return np.concatenate([state[3:], lifted[:, 0]])

    times = np.arange(0, LENGTH_S, 1 / RATE_HZ)
    solution = solve_ivp(
        derivative, (0, LENGTH_S), np.zeros(6), t_eval=times, rtol=1e-6, atol=1e-8, max_step=0.02
    )
    lifted, travel, hub = accelerations(times, solution.y[:3], solution.y[3:])
    return travel, place.T @ lifted, hub


def made_car():
    axles = [
        Axle(
            layout="independent",
            track_m=2 * HALF_TRACK[k],
            sprung_mass_kg=MASS[k // 2],
            unsprung_mass_kg=80.0,
            spring_rate_n_per_m=0.9 * SPRING[k],  # what the owner states is wrong, and not used
            motion_ratio=RATIO[k],
            tyre_rate_n_per_m=200e3,
        )
        for k in (0, 2)
    ]
    return Car(name="made up", wheelbase_m=WHEELBASE, front=axles[0], rear=axles[1])


pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def drive():
    travel, body, hub = motion()
    return CornerSignals(
        sample_rate_hz=RATE_HZ,
        travel_m=travel,
        body_m_per_s2=body,
        hub_m_per_s2=hub,
        use=np.ones(travel.shape[1], dtype=bool),
    )


@pytest.fixture(scope="module")
def fitted(drive):
    return fit_balance((drive,), made_car())


def quantities(fit, number):
    axle = (made_car().front, made_car().rear)[number]
    ratio = axle.motion_ratio * float(np.exp(fit.calibration.log_motion_ratio[number]))
    found = axle_quantities(fit.parameters[None], fit.layout, axle, number, ratio)
    return {name: float(value[0]) for name, value in found.items()}


def test_springs_bars_and_inertias_are_found_without_the_owners_spring(fitted):
    layout = fitted.layout
    for corner in range(4):
        found = fitted.parameters[layout.spring(corner)]
        # gains of sensors and the motion ratio share what the wheel rate leaves open
        assert found == pytest.approx(SPRING[corner], rel=0.01)
    # the fit's bar counts the pair of forces once: twice the rate at one damper
    assert fitted.parameters[layout.bar(0)] == pytest.approx(2 * BAR, rel=0.03)
    assert fitted.parameters[layout.bar(1)] == pytest.approx(0, abs=0.01 * BAR)
    assert fitted.parameters[layout.dynamic_index] == pytest.approx(PITCH, rel=0.005)
    assert fitted.parameters[layout.roll_inertia] == pytest.approx(ROLL, rel=0.005)
    assert fitted.residual_ratio < 0.02


def test_damper_curves_are_found_on_both_sides_of_the_knee(fitted):
    speed = np.array([0.03, 0.08, 0.15, 0.25, -0.03, -0.08, -0.15, -0.25])
    for corner in range(4):
        true = damper_n(np.tile(speed, (4, 1)))[corner]
        found = corner_forces_n(fitted.parameters[None], fitted.layout, corner, speed)[0]
        np.testing.assert_allclose(found, true, atol=0.02 * np.abs(true).max())
        assert fitted.parameters[fitted.layout.friction(corner)].sum() < 5.0


@pytest.mark.parametrize("number", [0, 1])
def test_contract_quantities_follow_from_bare_numbers(fitted, number):
    found = quantities(fitted, number)
    corner, mass = 2 * number, MASS[number] / 2
    wheel = SPRING[corner] * RATIO[corner] ** 2
    critical = 2 * np.sqrt(wheel * mass)
    ride = 1 / (1 / wheel + 1 / 200e3)
    assert found["spring_frequency_hz"] == pytest.approx(np.sqrt(wheel / mass) / 6.283185, rel=2e-3)
    assert found["body_frequency_hz"] == pytest.approx(np.sqrt(ride / mass) / 6.283185, rel=2e-3)
    bump, rebound = (c[corner] * RATIO[corner] ** 2 / critical for c in (BUMP, REBOUND))
    # 3 N between friction and damper at 0.05 m/s are 4 % of the weakest side
    assert found["damping_ratio_bump"] == pytest.approx(bump, rel=0.05)
    assert found["damping_ratio_rebound"] == pytest.approx(rebound, rel=0.03)
    assert found["damping_ratio"] == pytest.approx((bump + rebound) / 2, rel=0.03)
    decay = (bump + rebound) / 2 * (200e3 / (200e3 + wheel)) ** 1.5
    assert found["decay_damping_ratio"] == pytest.approx(decay, rel=0.03)
    hop = np.sqrt((wheel + 200e3) / 40.0) / 6.283185
    assert found["wheel_hop_hz"] == pytest.approx(hop, rel=2e-3)


@pytest.mark.parametrize("without", ["hub_m_per_s2", "travel_m"])
def test_fewer_sensors_find_the_same_car(drive, without):
    fit = fit_balance((replace(drive, **{without: None}),), made_car())
    for number in (0, 1):
        found, corner = quantities(fit, number), 2 * number
        wheel = SPRING[corner] * RATIO[corner] ** 2
        assert found["wheel_rate_n_per_m"] == pytest.approx(wheel, rel=0.02)
        mean = (BUMP[corner] + REBOUND[corner]) / 2 * RATIO[corner] ** 2
        true = mean / (2 * np.sqrt(wheel * MASS[number] / 2))
        assert found["damping_ratio"] == pytest.approx(true, rel=0.05)


def shifted(signal, delay_s, gain):
    """What a late sensor of wrong gain shows: an exact shift of a smooth signal."""
    count = signal.shape[-1]
    frequency = np.fft.rfftfreq(count, 1 / RATE_HZ)
    late = np.fft.rfft(signal) * np.exp(-2j * np.pi * frequency * delay_s)
    return gain * np.fft.irfft(late, count)


def test_kinematics_find_gains_delays_and_their_scatter(drive):
    rng = np.random.default_rng(8)
    gains = np.exp(rng.normal(0, 1, (3, 4)) * np.array([[0.004], [0.01], [0.01]]))
    delays = rng.uniform(-1e-3, 1e-3, (3, 4))
    car = replace(made_car(), tolerances=Tolerances(motion_ratio=1e-4))
    found, spread = [], None
    for _ in range(12):
        noise = rng.standard_normal((3, 4, drive.sample_count))
        parts = (drive.travel_m, drive.hub_m_per_s2, drive.body_m_per_s2)
        level = (1e-4, 0.05, 0.05)
        travel, hub, body = (
            np.stack([shifted(part[c], delays[k, c], gains[k, c]) for c in range(4)])
            + level[k] * noise[k]
            for k, part in enumerate(parts)
        )
        log = replace(drive, travel_m=travel, hub_m_per_s2=hub, body_m_per_s2=body)
        done = calibrate_kinematics((log,), car)
        late = np.stack([done.travel_delay_s, done.hub_delay_s, done.body_delay_s])
        bigger = np.stack([done.travel_log_gain, done.hub_log_gain, done.body_log_gain])
        # only what differs between the sensors of a corner shows
        found.append(np.concatenate([late[0] - late[1], bigger[0], late[2] - late[1]]))
        spread = done.covariance
        assert done.surprise_sd < 5
    found = np.array(found)
    middle = found.mean(axis=0)
    np.testing.assert_allclose(middle[:4], delays[0] - delays[1], atol=5e-5)
    np.testing.assert_allclose(middle[8:], delays[2] - delays[1], atol=1.5e-4)
    pick = np.zeros((4, 26))
    for corner in range(4):
        pick[corner, 12 + corner], pick[corner, 16 + corner] = 1, -1
    claimed = np.sqrt(np.diag(pick @ spread @ pick.T))
    scatter = found[:, :4].std(axis=0, ddof=1)
    # twelve drives tell a spread within a factor of two
    assert (scatter < 2 * claimed).all()
    assert (scatter > claimed / 10).all()
    # the body's delays, which the balance goes on with, are told as well as they are claimed
    left_open = body_delay_covariance(done)
    between = (found[:, 8:] - found[:, :4]) - (delays[2] - delays[0])
    assert (np.abs(between) < 5 * np.sqrt(np.diag(left_open))).all()
    assert (np.sqrt(np.diag(left_open)) < 2e-4).all()


def test_a_reading_with_the_wrong_sign_is_no_small_correction(drive):
    log = replace(drive, hub_m_per_s2=drive.hub_m_per_s2 * np.array([[-1.0], [1], [1], [1]]))
    assert calibrate_kinematics((log,), made_car()).misfit_ratio > 0.1
    assert calibrate_kinematics((drive,), made_car()).misfit_ratio < 1e-3


def test_first_order_doubt_agrees_with_monte_carlo(fitted):
    rng = np.random.default_rng(9)
    axle = made_car().front

    def ratio(parameters):
        return axle_quantities(parameters, fitted.layout, axle, 0, 0.6)["damping_ratio"]

    small = replace(fitted, covariance=1e4 * fitted.covariance)
    drawn = rng.multivariate_normal(small.parameters, small.covariance, 20_000, method="cholesky")
    inflation = DEFAULT_DOUBT.random_inflation
    claimed = random_deviation(small, ratio, DEFAULT_DOUBT) / inflation
    assert claimed == pytest.approx(ratio(drawn).std(), rel=0.05)
