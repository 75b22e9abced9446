"""From travel and suspension forces to the road: a rigid body, two axles, four tyres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.transform import ComplexArray
from ridelog.recording import FloatArray

# Double integration is never asked for below this.
_SLOWEST_RAD_PER_S = 0.5

INERTIA_COUNT = 6
"""Logarithms of dynamic index, roll inertia [kg m2], front and rear tyre rate [N/m], front and rear
axle inertia in roll over that of its mass at the wheels."""

SLOPE_COUNT = 6
"""Spring rate [N/m] and damping [N s/m] at the damper, front then rear; bars at the wheel [N/m]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoadFilters:
    """Road height under a wheel from wheel travel (2, f) and from wheel forces (2, 2, f)."""

    from_travel: FloatArray
    from_force: FloatArray


def lever_ratios(car: Car, mode: int) -> FloatArray:
    """Damper travel over wheel travel, front and rear, in heave (mode 0) or roll (mode 1)."""
    ratio = np.array([car.front.motion_ratio, car.rear.motion_ratio])
    if mode == 0:
        return ratio
    levers = np.array([car.front.roll_lever_ratio, car.rear.roll_lever_ratio])
    return np.asarray(ratio * levers)


def _body_answer(car: Car, inertia: FloatArray, mode: int) -> FloatArray:
    """Acceleration of the body over the axles per force of one wheel pair [1/kg], (2, 2)."""
    index, roll = np.exp(inertia[0]), np.exp(inertia[1])
    if mode == 1:
        track = np.array([car.front.track_m, car.rear.track_m])
        return np.asarray(np.outer(track / 2, track) / roll)
    front, rear = car.front.sprung_mass_kg, car.rear.sprung_mass_kg
    coupled = 1 - 1 / index
    shares = [[1 + rear / front / index, coupled], [coupled, 1 + front / rear / index]]
    return np.asarray(2 / (front + rear) * np.array(shares))


def road_filters(car: Car, inertia: FloatArray, omega: FloatArray, mode: int) -> RoadFilters:
    """Filters that give the road height.

    Parameters
    ----------
    car : Car
        Masses, tracks.
    inertia : FloatArray
        See `INERTIA_COUNT`, shape (6,).
    omega : FloatArray
        Angular frequencies [rad/s], shape (f,).
    mode : int
        0 for the mean of left and right, 1 for half their difference.

    Notes
    -----
    Suspension forces F and the body's masses give the body's height z = -B F / w^2; the wheel is
    at z plus wheel travel; the tyre is pressed by (F - w^2 m_u (z + travel)) / T.

    References
    ----------
    Derived here from Newton and Euler.
    """
    tyre = np.exp(inertia[2:4])
    mass = np.array([car.front.unsprung_mass_kg, car.rear.unsprung_mass_kg]) / 2
    if mode == 1:
        mass = mass * np.exp(inertia[4:6])
    square = np.maximum(omega, _SLOWEST_RAD_PER_S) ** 2
    wheel = 1 - square * (mass / tyre)[:, None]
    body = _body_answer(car, inertia, mode)
    force = -wheel[:, None, :] * body[:, :, None] / square
    force[0, 0] += 1 / tyre[0]
    force[1, 1] += 1 / tyre[1]
    return RoadFilters(from_travel=wheel, from_force=force)


def road_per_travel(
    car: Car, inertia: FloatArray, slopes: FloatArray, omega: FloatArray, mode: int
) -> ComplexArray:
    """Road height per wheel travel of the car with straight force laws, shape (f, 2, 2).

    Parameters
    ----------
    car, inertia, omega, mode
        As `road_filters`.
    slopes : FloatArray
        See `SLOPE_COUNT`, shape (6,).
    """
    filters = road_filters(car, inertia, omega, mode)
    ratio = lever_ratios(car, mode)
    out = np.zeros((len(omega), 2, 2), np.complex128)
    for axle in (0, 1):
        wheel = (slopes[2 * axle] + 1j * omega * slopes[2 * axle + 1]) * ratio[axle] ** 2
        if mode == 1:
            wheel = wheel + slopes[4 + axle]
        out[:, :, axle] = (filters.from_force[:, axle] * wheel).T
        out[:, axle, axle] += filters.from_travel[axle]
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LogDeterminant:
    """Sum over modes and bins of log |det|^2, its gradient and curvature (slopes, inertia)."""

    value: float
    gradient: FloatArray
    curvature: FloatArray


def log_determinant(
    car: Car, inertia: FloatArray, slopes: FloatArray, omega: FloatArray
) -> LogDeterminant:
    """How much the map from travel to road stretches: the likelihood's volume element.

    Parameters
    ----------
    car, inertia, slopes, omega
        As `road_per_travel`.

    Notes
    -----
    The curvature leaves out second derivatives of the map; they cancel, on average, against the
    same left out of a Gauss-Newton normal matrix.
    """
    point = np.concatenate([slopes, inertia])
    steps = np.concatenate([1e-4 * np.maximum(np.abs(slopes), 1.0), np.full(INERTIA_COUNT, 1e-4)])
    total, gradient = 0.0, np.zeros(len(point))
    curvature = np.zeros((len(point), len(point)))
    for mode in (0, 1):
        middle = road_per_travel(car, inertia, slopes, omega, mode)
        changes = []
        for number, step in enumerate(steps):
            moved = point.copy()
            moved[number] += step
            there = road_per_travel(car, moved[SLOPE_COUNT:], moved[:SLOPE_COUNT], omega, mode)
            changes.append((there - middle) / step)
        relative = np.linalg.solve(middle[None], np.stack(changes))
        total += float(np.sum(np.log(np.abs(np.linalg.det(middle)) ** 2)))
        gradient += 2 * np.trace(relative, axis1=2, axis2=3).sum(axis=1).real
        curvature -= 2 * np.einsum("afij,bfji->ab", relative, relative).real
    return LogDeterminant(value=total, gradient=gradient, curvature=curvature)
