"""The model of a car let go, against handbook sequences and another integrator."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from ridelog.estimate.decay_model import (
    MODEL_PARAMETER_COUNT,
    axle_values,
    damper_law,
    simulate_decays,
)

STEP_S = 0.001


def log_axle(mass, unsprung, rate, tyre, damping, **other):
    """Log parameters of one axle; a linear damper without friction unless told otherwise."""
    values = {
        "asymmetry": 1.0,
        "knee": 0.1,
        "knee_ratio": 1.0,
        "digression": 1.0,
        "soft_start": 1.0,
        "friction": 1e-6,
        "width": 0.01,
        "tyre_damping": 1e-6,
        "motion_ratio": 1.0,
    } | other
    return np.log(
        [
            rate,
            damping,
            values["asymmetry"],
            values["knee"],
            values["knee_ratio"],
            values["digression"],
            values["soft_start"],
            values["friction"],
            values["width"],
            mass,
            unsprung,
            tyre,
            values["tyre_damping"],
            values["motion_ratio"],
        ]
    )


def released(axle, body_m, wheel_m, duration_s):
    """Body speed of one axle let go at rest, the other far away, and its times."""
    parameters = np.concatenate([axle, axle, [0.0]])[None]
    initial = np.zeros((1, 10, 1))
    initial[0, 0], initial[0, 2] = body_m, wheel_m
    steps = round(duration_s / STEP_S)
    speed = simulate_decays(parameters, initial, step_s=STEP_S, step_count=steps)[0, 0, 0]
    return np.arange(steps + 1) * STEP_S, speed


def turning_points(speed, start_m):
    """Body positions where the speed changes sign, from the trapezoid rule."""
    position = start_m + np.concatenate([[0], np.cumsum((speed[1:] + speed[:-1]) / 2)]) * STEP_S
    turns = np.flatnonzero(np.diff(np.sign(speed[1:])) != 0) + 1
    return position[turns]


def test_viscous_and_dry_friction_take_the_published_swings():
    # Feeny & Liang, J. Sound Vib. 195(1), 1996: m 300 kg, k 20 kN/m, c 1000 N s/m, F 100 N from
    # 100 mm; the sequence was computed with an ODE solver to 1e-9.
    axle = log_axle(300.0, 1.0, 20e3, 1e9, 1000.0, friction=100.0, width=2e-4)
    _, speed = released(axle, 0.1, 0.0, 1.5)
    found = np.abs(turning_points(speed, 0.1))[:3]
    np.testing.assert_allclose(found, [0.0443437, 0.0154354, 0.0004202], rtol=5e-3, atol=2e-5)


def test_dry_friction_alone_takes_2_f_over_k_off_every_swing():
    # Thomson, Theory of Vibration with Applications, p. 36, eq. 2.8-1
    axle = log_axle(300.0, 1.0, 20e3, 1e9, 1e-6, friction=200.0, width=2e-4)
    _, speed = released(axle, 0.1, 0.0, 2.0)
    found = np.abs(turning_points(speed, 0.1))[:3]
    np.testing.assert_allclose(found, [0.080, 0.060, 0.040], rtol=2e-3)


def test_decay_of_the_reference_quarter_car_of_road_roughness():
    # World Bank Technical Paper 45: k1 653, k2 63.3, c 6, mu 0.15 per unit of sprung mass; body
    # mode 1.1655 Hz damped, ratio 0.3334, computed with an eigen-solver.
    mass = 250.0
    axle = log_axle(mass, 0.15 * mass, 63.3 * mass, 653 * mass, 6 * mass)
    time_s, speed = released(axle, -0.05, -0.05 * 63.3 / (653 + 63.3), 2.5)
    crossings = np.flatnonzero(np.diff(np.sign(speed[200:])) != 0) + 200
    half_period_s = np.diff(time_s[crossings])[:2].mean()
    assert 0.5 / half_period_s == pytest.approx(1.1655, rel=5e-3)
    peaks = [np.abs(speed[a:b]).max() for a, b in pairwise(crossings)]
    decrement = 2 * np.log(peaks[0] / peaks[1])
    assert decrement / np.hypot(2 * np.pi, decrement) == pytest.approx(0.3334, rel=0.01)


def bent_axle():
    return log_axle(
        300.0,
        40.0,
        25e3,
        210e3,
        1500.0,
        asymmetry=2.0,
        knee=0.1,
        knee_ratio=0.6,
        digression=0.4,
        soft_start=0.6,
        friction=50.0,
        width=0.004,
    )


def test_damper_law_keeps_its_secants_and_its_slope():
    # The contract's damping: secant at 0.05 m/s, friction left out; mean of both sides 1500, the
    # rebound's twice the bump's, wherever knees and the start bend the curve.
    axle = bent_axle()
    parameters = np.concatenate([axle, axle, [0.0]])[None]
    assert parameters.shape == (1, MODEL_PARAMETER_COUNT)
    law = damper_law(axle_values(parameters), 1)

    def at(speed):
        force, slope = law.force_and_slope(np.full((1, 2, 1), speed))
        return force[0, 0, 0], slope[0, 0, 0]

    dry = 50.0 * np.tanh(0.05 / 0.004)
    assert (at(0.05)[0] - dry) / 0.05 == pytest.approx(1000.0, rel=1e-9)
    assert (at(-0.05)[0] + dry) / -0.05 == pytest.approx(2000.0, rel=1e-9)
    # Past a bleed hole the damper starts at 0.6 of its slope, the friction's own slope apart.
    near, far = at(1e-6)[0] - 50.0 * np.tanh(1e-6 / 0.004), at(0.05)[0] - dry
    assert near / 1e-6 < 0.8 * far / 0.05
    for speed in (-0.3, -0.11, -0.02, -0.001, 0.001, 0.03, 0.07, 0.25):
        difference = (at(speed + 1e-6)[0] - at(speed - 1e-6)[0]) / 2e-6
        assert at(speed)[1] == pytest.approx(difference, rel=1e-5)
    # The bump side opens at 0.1 x sqrt(0.6), the rebound side at 0.1 / sqrt(0.6) m/s.
    assert at(0.1)[1] / at(0.01)[1] < at(-0.1)[1] / at(-0.01)[1]


def test_roll_is_told_from_two_dampers_apart():
    # Two dampers under one body that rolls besides, written out side by side for another
    # integrator: by what roll blunts friction, the body comes to rest elsewhere.
    mass, unsprung, rate, tyre, damping, dry, width = 300.0, 40.0, 25e3, 210e3, 900.0, 80.0, 0.003
    axle = log_axle(mass, unsprung, rate, tyre, damping, friction=dry, width=width)

    def sway(time_s):
        return 0.06 * np.exp(-3 * time_s) * np.cos(15 * time_s)

    def slope(time_s, state):
        z, u, dz, du = state
        sides = du - dz + sway(time_s) * np.array([1, -1])
        force = rate * (u - z) + (damping * sides + dry * np.tanh(sides / width)).mean()
        return [dz, du, force / mass, (-force - tyre * u) / unsprung]

    start = np.array([-0.03, -0.003, 0.0, 0.0])
    times = np.arange(0, 1.2001, STEP_S)
    other = solve_ivp(slope, (0, 1.2), start, t_eval=times, rtol=1e-8, atol=1e-10, max_step=2e-3)
    initial = np.zeros((1, 10, 1))
    initial[0, 0], initial[0, 2] = start[:2]
    steps = len(times) - 1
    middle = sway(times[:-1] + STEP_S / 2)

    def ours(sway_m_per_s):
        return simulate_decays(
            np.concatenate([axle, axle, [0.0]])[None],
            initial,
            step_s=STEP_S,
            step_count=steps,
            sway_m_per_s=sway_m_per_s,
        )[0, 0, 0]

    with_roll = ours(np.broadcast_to(middle, (2, 1, steps)))
    np.testing.assert_allclose(with_roll, other.y[2], atol=5e-4)
    assert np.abs(ours(None) - other.y[2]).max() > 5e-3


def test_both_axles_agree_with_another_integrator():
    front = log_axle(370.0, 45.0, 36e3, 230e3, 2500.0, asymmetry=1.6, friction=60.0, width=0.003)
    rear = log_axle(300.0, 80.0, 25e3, 210e3, 1500.0, asymmetry=2.0, tyre_damping=150.0)
    m, mu = np.array([370.0, 300.0]), np.array([45.0, 80.0])
    k, t = np.array([36e3, 25e3]), np.array([230e3, 210e3])
    c, ratio = np.array([2500.0, 1500.0]), np.array([1.6, 2.0])
    dry, tyre_damping = np.array([60.0, 0.0]), np.array([0.0, 150.0])
    total, wheelbase = m.sum(), 2.7
    ahead = wheelbase * np.array([m[1], -m[0]]) / total
    inertia = 0.9 * wheelbase**2 * m.prod() / total  # heave and pitch written out, ratio 0.9

    def slope(_time, state):
        z, u, dz, du = state[:2], state[2:4], state[4:6], state[6:8]
        v = du - dz
        side = np.where(v > 0, 2 / (1 + ratio), 2 * ratio / (1 + ratio))
        force = k * (u - z) + c * side * v + dry * np.tanh(v / 0.003)
        heave, pitch = force.sum() / total, (ahead * force).sum() / inertia
        wheels = (-force - t * u - tyre_damping * du) / mu
        return np.concatenate([dz, du, heave + ahead * pitch, wheels])

    start = np.array([-0.03, 0.002, -0.004, 0.0, 0.1, 0.0, 0.0, 0.0])
    times = np.arange(0, 1.2001, STEP_S)
    other = solve_ivp(slope, (0, 1.2), start, t_eval=times, rtol=1e-8, atol=1e-10, max_step=2e-3)
    parameters = np.concatenate([front, rear, [np.log(0.9)]])[None]
    ours = simulate_decays(
        parameters,
        np.concatenate([start, [0.0, 0.0]])[None, :, None],
        step_s=STEP_S,
        step_count=1200,
    )[0, :, 0]
    np.testing.assert_allclose(ours, other.y[4:6], atol=2e-4)
