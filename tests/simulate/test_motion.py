"""The moving car: against a general-purpose solver, against energy, and against its own step."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from ridelog.simulate.dampers import DamperCurve, damper_force_n
from ridelog.simulate.march import march
from ridelog.simulate.matrices import STATES
from ridelog.simulate.stepping import make_batch
from ridelog.simulate.true_car import Stops, TrueAxle, TrueCar, TrueDamper

G = 9.80665


def corner_damper(**changes) -> TrueDamper:
    damper = TrueDamper(
        bump=DamperCurve(family="knee", slope_n_s_per_m=1800, knee_m_per_s=0.12),
        rebound=DamperCurve(family="saturating", slope_n_s_per_m=3600, bleed_ratio=0.3),
        friction_n=40.0,
        friction_width_m_per_s=0.006,
    )
    return replace(damper, **changes)


def lively_car(**axle_changes) -> TrueCar:
    """Everything at once: solid rear axle, bars, stops close by, unequal dampers."""
    left, right = corner_damper(), corner_damper(condition_ratio=0.5)
    front = TrueAxle(
        track_m=1.48,
        sprung_mass_kg=640.0,
        unsprung_mass_kg=84.0,
        spring_rate_n_per_m=52e3,
        motion_ratio=0.66,
        tyre_rate_n_per_m=205e3,
        bar_rate_n_per_m=9e3,
        dampers=(left, right),
        stops=Stops(bump_gap_m=0.02, droop_gap_m=0.022),
    )
    rear = replace(
        front,
        layout="solid",
        track_m=1.42,
        damper_spacing_m=1.0,
        sprung_mass_kg=480.0,
        unsprung_mass_kg=130.0,
        axle_inertia_ratio=0.6,
        motion_ratio=0.9,
        spring_rate_n_per_m=24e3,
        bar_rate_n_per_m=0.0,
        dampers=(right, left),
    )
    car = TrueCar(name="lively", wheelbase_m=2.7, front=front, rear=rear)
    return replace(car, front=replace(front, **axle_changes), rear=replace(rear, **axle_changes))


def road_height_m(time_s: float, wheel: int) -> float:
    """Smooth, uneven left to right, and lively enough for stops and lifted wheels."""
    start = min(time_s / 0.3, 1.0) ** 2
    waves = ((1.3, 0.030, 0.0), (2.9, 0.012, 0.7), (9.7, 0.006, 1.9))
    phase = 1.1 * wheel
    return start * sum(
        a * np.sin(2 * np.pi * f * time_s + p + phase) - a * np.sin(p + phase) for f, a, p in waves
    )


def inputs_for(step_s: float, duration_s: float) -> np.ndarray:
    count = round(duration_s / step_s) + 1
    inputs = np.zeros((1, count, 10))
    for row in range(count):
        inputs[0, row, :4] = [road_height_m(row * step_s, wheel) for wheel in range(4)]
    return inputs


def second_opinion(car: TrueCar, times: np.ndarray) -> np.ndarray:
    """Damper travel (n, 4) by Newton and Euler, body and beam as such, with absolute loads.

    Written apart from the simulator: unknowns are heave, pitch, roll, two front wheels, the rear
    beam's heave and tilt; gravity and static loads are kept, forces summed one by one.
    """
    f, r = car.front, car.rear
    total = f.sprung_mass_kg + r.sprung_mass_kg
    ahead = car.wheelbase_m * r.sprung_mass_kg / total
    behind = car.wheelbase_m - ahead
    pitch_inertia = car.pitch_index_ratio * total * ahead * behind
    roll_inertia = total * (car.roll_radius_ratio * (f.track_m + r.track_m) / 2) ** 2
    beam_inertia = r.axle_inertia_ratio * r.unsprung_mass_kg * (r.track_m / 2) ** 2

    def one_strut(axle, side, compression, rate):
        """Force of spring, damper, friction and stops at the wheel, static load included."""
        damper, ratio = axle.dampers[side], axle.motion_ratio
        x, v = compression * ratio, rate * ratio
        force = axle.sprung_mass_kg / 2 * G / ratio + axle.spring_rate_n_per_m * x
        force += damper.condition_ratio * float(damper_force_n(damper.bump, damper.rebound, v))
        force += damper.friction_n * np.tanh(v / damper.friction_width_m_per_s)
        stops = axle.stops
        if x > stops.bump_gap_m:
            d = x - stops.bump_gap_m
            rubber = stops.bump_rate_n_per_m * d + stops.bump_cubic_n_per_m3 * d**3
            force += rubber * max(1 + stops.loss_s_per_m * v, 0)
        if x < -stops.droop_gap_m:
            d = -x - stops.droop_gap_m
            rubber = stops.droop_rate_n_per_m * d + stops.droop_cubic_n_per_m3 * d**3
            force -= rubber * max(1 - stops.loss_s_per_m * v, 0)
        return force * ratio

    def tyre(axle, road, road_rate, height, rate):
        load = (axle.sprung_mass_kg + axle.unsprung_mass_kg) / 2 * G
        load += axle.tyre_rate_n_per_m * (road - height)
        return max(load + axle.tyre_damping_n_s_per_m * (road_rate - rate), 0.0)

    def compressions(q):
        z, pitch, roll, left, right, beam, tilt = q
        body_front = [z + ahead * pitch + s * f.track_m / 2 * roll for s in (1, -1)]
        body_rear = [z - behind * pitch + s * r.damper_spacing_m / 2 * roll for s in (1, -1)]
        beam_ends = [beam + s * r.damper_spacing_m / 2 * tilt for s in (1, -1)]
        return [
            left - body_front[0],
            right - body_front[1],
            beam_ends[0] - body_rear[0],
            beam_ends[1] - body_rear[1],
        ]

    def rhs(t, y):
        q, v = y[:7], y[7:]
        c, u = compressions(q), compressions(v)
        strut = [one_strut(f, i, c[i], u[i]) for i in (0, 1)]
        strut += [one_strut(r, i, c[2 + i], u[2 + i]) for i in (0, 1)]
        bar = f.bar_rate_n_per_m * (c[0] - c[1])
        strut[0] += bar
        strut[1] -= bar
        eps = 1e-6
        road = [road_height_m(t, w) for w in range(4)]
        road_rate = [
            (road_height_m(t + eps, w) - road_height_m(max(t - eps, 0), w)) / (eps + min(t, eps))
            for w in range(4)
        ]
        half = r.track_m / 2
        ends = [(q[5] + s * half * q[6], v[5] + s * half * v[6]) for s in (1, -1)]
        loads = [tyre(f, road[i], road_rate[i], q[3 + i], v[3 + i]) for i in (0, 1)]
        loads += [tyre(r, road[2 + i], road_rate[2 + i], *ends[i]) for i in (0, 1)]
        inboard = r.damper_spacing_m / 2
        acceleration = [
            sum(strut) / total - G,
            (ahead * (strut[0] + strut[1]) - behind * (strut[2] + strut[3])) / pitch_inertia,
            (f.track_m / 2 * (strut[0] - strut[1]) + inboard * (strut[2] - strut[3]))
            / roll_inertia,
            (loads[0] - strut[0]) / (f.unsprung_mass_kg / 2) - G,
            (loads[1] - strut[1]) / (f.unsprung_mass_kg / 2) - G,
            (loads[2] + loads[3] - strut[2] - strut[3]) / r.unsprung_mass_kg - G,
            (half * (loads[2] - loads[3]) - inboard * (strut[2] - strut[3])) / beam_inertia,
        ]
        return np.concatenate([v, acceleration])

    solution = solve_ivp(
        rhs, (0, times[-1]), np.zeros(14), t_eval=times, rtol=1e-7, atol=1e-9, max_step=0.002
    )
    ratios = np.array([f.motion_ratio, f.motion_ratio, r.motion_ratio, r.motion_ratio])
    return np.array([compressions(q) for q in solution.y[:7].T]) * ratios


@pytest.mark.slow
def test_agrees_with_a_general_purpose_solver():
    # scipy.integrate.solve_ivp on equations written down separately, in absolute loads.
    car, step_s, duration_s = lively_car(), 0.00025, 1.5
    motion = march(make_batch([car], step_s), inputs_for(step_s, duration_s))
    every = round(0.005 / step_s)
    times = motion.time_s[::every]
    expected = second_opinion(car, times)
    assert motion.tyre_load.min() == 0.0, "the case must lift a wheel"
    assert expected.max(axis=0).min() > 0.02, "the case must reach the bump stops"
    assert expected.min(axis=0).max() < -0.022, "the case must reach the droop stops"
    # Travel spans some 60 mm: agreement to 10 micrometres, a twentieth of the logger's step.
    np.testing.assert_allclose(motion.damper_travel[0, ::every], expected, atol=1e-5)


def test_error_falls_with_the_square_of_the_step():
    car, duration_s = lively_car(), 1.0
    runs = []
    for step_s in (1e-3, 5e-4, 2.5e-4, 6.25e-5):
        motion = march(make_batch([car], step_s), inputs_for(step_s, duration_s))
        runs.append(motion.damper_travel[0, :: round(1e-3 / step_s)])
    errors = [np.sqrt(np.mean((run - runs[-1]) ** 2)) for run in runs[:-1]]
    assert errors[0] / errors[1] > 3.0
    assert errors[1] / errors[2] > 3.0
    # At the fleets' step even this rough ride is right to two ten-thousandths of its size.
    assert errors[1] < 2e-4 * np.std(runs[-1])


@pytest.mark.parametrize("lag_s", [0.0, 0.002])
def test_lag_of_the_mount_follows_the_damper_force(lag_s):
    # F + tau F' = damper's own force, tried on the body's heave balance: mass x acceleration =
    # spring and damper forces, with the lagged force worked out from the speed by a plain filter.
    damper = corner_damper(mount_lag_s=lag_s, friction_n=0.0)
    wide = Stops()
    car = lively_car(dampers=(damper, damper), stops=wide, bar_rate_n_per_m=0.0)
    step_s = 0.00025
    motion = march(make_batch([car], step_s), inputs_for(step_s, 1.0))
    total = np.zeros(motion.damper_travel.shape[1])
    for place, axle in enumerate((car.front, car.front, car.rear, car.rear)):
        speed = motion.damper_speed[0, :, place]
        own = damper_force_n(damper.bump, damper.rebound, speed)
        felt = np.zeros_like(own)
        for k in range(1, len(own)):
            middle = (own[k] + own[k - 1]) / 2
            share = -np.expm1(-step_s / lag_s) if lag_s else 1.0
            felt[k] = felt[k - 1] + share * ((middle if lag_s else own[k]) - felt[k - 1])
        spring = axle.spring_rate_n_per_m * motion.damper_travel[0, :, place]
        total += axle.motion_ratio * (spring + felt)
    body = motion.body_acceleration[0]
    inertia = 640.0 * body[:, :2].mean(axis=1) + 480.0 * body[:, 2:].mean(axis=1)
    assert np.sqrt(np.mean((inertia - total) ** 2)) < 2e-3 * np.std(total)


def test_energy_that_leaves_is_energy_that_was_there():
    # Conservation: elastic energy at the release = what dampers and friction turned to heat.
    wide = Stops()
    car = lively_car(stops=wide, tyre_damping_n_s_per_m=0.0)
    start = np.zeros((1, STATES))
    start[0, 0] = -0.05
    step_s = 0.00025
    motion = march(make_batch([car], step_s), np.zeros((1, 24000, 10)), initial_state=start)
    released = sum(
        a.spring_rate_n_per_m * (a.motion_ratio * 0.05) ** 2 for a in (car.front, car.rear)
    )
    heat = 0.0
    for place, axle in enumerate((car.front, car.front, car.rear, car.rear)):
        damper, v = axle.dampers[place % 2], motion.damper_speed[0, :, place]
        force = damper.condition_ratio * damper_force_n(damper.bump, damper.rebound, v)
        force = force + damper.friction_n * np.tanh(v / damper.friction_width_m_per_s)
        heat += np.trapezoid(force * v, dx=step_s)
    assert heat == pytest.approx(released, rel=2e-3)


def test_changing_motion_ratio_does_the_work_of_its_geometry():
    # Virtual work: at rest under a push, the springs' forces x d(damper)/d(wheel) carry weight and
    # push. With x = ratio u + slope u^2 / 2 that lever is sqrt(ratio^2 + 2 slope x).
    free = corner_damper(friction_n=0.0)
    car = lively_car(
        stops=Stops(), dampers=(free, free), motion_ratio_slope_per_m=0.8, sprung_mass_kg=500.0
    )
    count, push_n = 4000, -1500.0
    inputs = np.zeros((1, count, 10))
    inputs[0, :, 7] = push_n * np.clip(np.arange(count) / 2000, 0, 1)
    motion = march(make_batch([car], 0.001), inputs)
    carried = 0.0
    for place, axle in enumerate((car.front, car.front, car.rear, car.rear)):
        x, ratio = motion.damper_travel[0, -1, place], axle.motion_ratio
        lever = np.sqrt(ratio**2 + 2 * axle.motion_ratio_slope_per_m * x)
        preload = axle.sprung_mass_kg / 2 * G / ratio
        carried += (preload + axle.spring_rate_n_per_m * x) * lever
    assert carried == pytest.approx(1000.0 * G - push_n, rel=2e-4)
