"""What bends: damper curves, dry friction, stops, changing motion ratios, lifted tyres.

All cars of a batch at once; arrays are (cars, 4) in the order fl fr rl rr. Called once per time
step, so every array operation counts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ridelog.recording import AXLES, STANDARD_GRAVITY_M_PER_S2, FloatArray
from ridelog.simulate.dampers import damper_force_n
from ridelog.simulate.matrices import CarMatrices
from ridelog.simulate.true_car import TrueCar

ForceFunction = Callable[[FloatArray, FloatArray], None]

# Damper curves are smooth over a knee's width (10 mm/s and more), so that straight lines between
# points this close are exact to 1e-4 of the force; beyond the last point the line goes on.
TABLE_STEP_M_PER_S = 0.002
TABLE_LIMIT_M_PER_S = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchForces:
    """Force parameters of all cars; see `TrueAxle`, `TrueDamper` and `Stops` for the meanings."""

    motion_ratio: FloatArray
    ratio_slope: FloatArray
    spring_rate: FloatArray
    preload: FloatArray
    wheel_rate: FloatArray
    friction: FloatArray
    friction_width: FloatArray
    linear_damping: FloatArray
    bump_gap: FloatArray
    droop_gap: FloatArray
    bump_rate: FloatArray
    bump_cubic: FloatArray
    droop_rate: FloatArray
    droop_cubic: FloatArray
    stop_loss: FloatArray
    spring_rise: FloatArray
    crossover: FloatArray
    beyond_step: FloatArray
    table: FloatArray
    table_slope: FloatArray


def batch_forces(cars: Sequence[TrueCar], matrices: Sequence[CarMatrices]) -> BatchForces:
    """Collect the force parameters of all cars of a batch.

    Parameters
    ----------
    cars : Sequence[TrueCar]
        The cars.
    matrices : Sequence[CarMatrices]
        Their equations of motion, which hold the linear part of each damper.
    """
    linear_damping = np.stack([m.linear_damping for m in matrices])
    table = _damper_table(cars, linear_damping)
    ratio = _axle_values(cars, "motion_ratio")
    sprung = _axle_values(cars, "sprung_mass_kg")
    return BatchForces(
        motion_ratio=ratio,
        ratio_slope=_axle_values(cars, "motion_ratio_slope_per_m"),
        spring_rate=_axle_values(cars, "spring_rate_n_per_m"),
        preload=sprung / 2 * STANDARD_GRAVITY_M_PER_S2 / ratio,
        wheel_rate=_axle_values(cars, "wheel_rate_n_per_m"),
        friction=_damper_values(cars, "friction_n"),
        friction_width=_damper_values(cars, "friction_width_m_per_s"),
        linear_damping=linear_damping,
        bump_gap=_stop_values(cars, "bump_gap_m"),
        droop_gap=_stop_values(cars, "droop_gap_m"),
        bump_rate=_stop_values(cars, "bump_rate_n_per_m"),
        bump_cubic=_stop_values(cars, "bump_cubic_n_per_m3"),
        droop_rate=_stop_values(cars, "droop_rate_n_per_m"),
        droop_cubic=_stop_values(cars, "droop_cubic_n_per_m3"),
        stop_loss=_stop_values(cars, "loss_s_per_m"),
        spring_rise=_axle_values(cars, "spring_rise_n_per_m2"),
        crossover=np.array([[crossover for crossover, _ in _beyond(car)] for car in cars]),
        beyond_step=np.array([[step for _, step in _beyond(car)] for car in cars]),
        table=table,
        table_slope=np.diff(table, axis=-1, append=0.0),
    )


def _axle_values(cars: Sequence[TrueCar], name: str) -> FloatArray:
    rows = [[getattr(car.axle(axle), name) for axle in AXLES for _ in (0, 1)] for car in cars]
    return np.array(rows, dtype=float)


def _beyond(car: TrueCar) -> list[tuple[float, float]]:
    """Cross-over travel [m] and what the rate changes by past it [N/m], per corner."""
    return [
        (0.0, 0.0)
        if axle.crossover_m is None
        else (axle.crossover_m, axle.beyond_n_per_m - axle.spring_rate_n_per_m)
        for axle in (car.front, car.front, car.rear, car.rear)
    ]


def _stop_values(cars: Sequence[TrueCar], name: str) -> FloatArray:
    rows = [[getattr(car.axle(axle).stops, name) for axle in AXLES for _ in (0, 1)] for car in cars]
    return np.array(rows, dtype=float)


def _damper_values(cars: Sequence[TrueCar], name: str) -> FloatArray:
    rows = [[getattr(d, name) for axle in AXLES for d in car.axle(axle).dampers] for car in cars]
    return np.array(rows, dtype=float)


def _damper_table(cars: Sequence[TrueCar], linear_damping: FloatArray) -> FloatArray:
    """Damper force beyond the linear part on a grid of speeds, shape (cars, 4, points)."""
    count = round(TABLE_LIMIT_M_PER_S / TABLE_STEP_M_PER_S)
    speed = np.arange(-count, count + 1, dtype=float) * TABLE_STEP_M_PER_S
    curves = [
        [damper_force_n(*car.axle(axle).curves(side), speed) for axle in AXLES for side in (0, 1)]
        for car in cars
    ]
    return np.array(curves) - linear_damping[..., None] * speed


def stop_force_n(
    forces: BatchForces, travel_m: FloatArray, speed_m_per_s: FloatArray
) -> FloatArray:
    """Force of the bump and droop stops at the damper [N], positive in bump, shape (cars, 4).

    Parameters
    ----------
    forces : BatchForces
        The stops.
    travel_m : FloatArray
        Damper travel [m], shape (cars, 4).
    speed_m_per_s : FloatArray
        Damper speed [m/s], shape (cars, 4).

    References
    ----------
    Hunt & Crossley, J. Appl. Mech. 42 (1975) 440: loss proportional to force and speed (from
    memory).
    """
    bump = np.maximum(travel_m - forces.bump_gap, 0.0)
    droop = np.maximum(-travel_m - forces.droop_gap, 0.0)
    pushed = bump * (forces.bump_rate + forces.bump_cubic * bump**2)
    pulled = droop * (forces.droop_rate + forces.droop_cubic * droop**2)
    pushed *= np.maximum(1 + forces.stop_loss * speed_m_per_s, 0.0)
    pulled *= np.maximum(1 - forces.stop_loss * speed_m_per_s, 0.0)
    result: FloatArray = pushed - pulled
    return result


def bent_spring_force_n(forces: BatchForces, travel_m: FloatArray) -> FloatArray:
    """Spring force at the damper beyond preload and the rate at ride height [N], shape (cars, 4).

    Parameters
    ----------
    forces : BatchForces
        The springs.
    travel_m : FloatArray
        Damper travel [m], shape (cars, 4).

    References
    ----------
    Derived here: the integral of a rate that rises in a straight line and jumps once.
    """
    side = np.sign(forces.crossover)
    past = side * np.maximum(side * (travel_m - forces.crossover), 0.0)
    result: FloatArray = forces.spring_rise * travel_m**2 / 2 + forces.beyond_step * past
    return result


def force_function(forces: BatchForces) -> ForceFunction:
    """Return a function that fills in the bending forces of one time step.

    It takes (readings, out): readings (cars, 12) are wheel travel at the damper, its rate, and
    tyre load; out (cars, 12) is what `CarMatrices.force` multiplies.
    """
    count = round(TABLE_LIMIT_M_PER_S / TABLE_STEP_M_PER_S)
    cars = len(forces.motion_ratio)
    table, slope = forces.table.ravel(), forces.table_slope.ravel()
    points = 2 * count + 1
    base = np.arange(cars * 4).reshape(cars, 4) * points
    scale = forces.motion_ratio / TABLE_STEP_M_PER_S
    over_width = forces.motion_ratio / forces.friction_width
    half_range = (forces.bump_gap + forces.droop_gap) / 2
    middle = (forces.bump_gap - forces.droop_gap) / 2
    varying = bool(np.any(forces.ratio_slope))
    bent = bool(np.any(forces.spring_rise) or np.any(forces.beyond_step))
    friction, ratio = forces.friction, forces.motion_ratio

    def fill(readings: FloatArray, out: FloatArray) -> None:
        wheel_travel, wheel_speed = readings[:, :4], readings[:, 4:8]
        if varying:
            lever = ratio + forces.ratio_slope * wheel_travel
            travel = wheel_travel * (ratio + forces.ratio_slope * wheel_travel / 2)
            speed = lever * wheel_speed
            position = speed / TABLE_STEP_M_PER_S + count
            rubbing = friction * np.tanh(speed / forces.friction_width)
        else:
            travel = wheel_travel * ratio
            position = wheel_speed * scale + count
            rubbing = friction * np.tanh(wheel_speed * over_width)
        cell = np.minimum(np.maximum(position, 0.0), points - 2.0).astype(np.intp)
        place = cell + base
        viscous = table.take(place) + (position - cell) * slope.take(place)
        out[:, :4] = viscous + rubbing
        touching = bool((np.abs(travel - middle) > half_range).any())
        if varying:
            _fill_varying(forces, (travel, wheel_travel, wheel_speed, lever), touching, out)
        elif touching:
            out[:, 4:8] = ratio * stop_force_n(forces, travel, wheel_speed * ratio)
        else:
            out[:, 4:8] = 0.0
        if bent:
            out[:, 4:8] += (lever if varying else ratio) * bent_spring_force_n(forces, travel)
        np.maximum(-readings[:, 8:], 0.0, out=out[:, 8:])

    return fill


def _fill_varying(
    forces: BatchForces,
    motion: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
    touching: bool,
    out: FloatArray,
) -> None:
    """Fill in spring, damper and stop forces where the motion ratio changes with travel."""
    travel, wheel_travel, wheel_speed, lever = motion
    ratio, speed = forces.motion_ratio, lever * wheel_speed
    spring = (forces.preload + forces.spring_rate * travel) * lever - forces.preload * ratio
    geometry = spring - forces.wheel_rate * wheel_travel
    if touching:
        geometry = geometry + lever * stop_force_n(forces, travel, speed)
    # The whole damper force, less what the matrices already hold at the fixed motion ratio.
    whole = out[:, :4] + forces.linear_damping * speed
    linear = forces.linear_damping * ratio * wheel_speed
    out[:, :4] = whole * lever / ratio - linear
    out[:, 4:8] = geometry
