"""One step of time for many cars together.

The linear part of the motion is carried over each step exactly by a matrix exponential, with road
and forces taken as straight lines within the step; the bending forces are extrapolated from the
last two steps (exponential Adams-Bashforth of second order).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridelog.recording import FloatArray
from ridelog.simulate.forces import ForceFunction, batch_forces, force_function
from ridelog.simulate.matrices import (
    COORDINATES,
    FORCES,
    INPUTS,
    STATES,
    CarMatrices,
    car_matrices,
)
from ridelog.simulate.true_car import TrueCar

READINGS = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StepMatrices:
    """One step of all cars: next [readings, state] = `march` [state, f, last f] + inputs.

    `before` and `after` multiply the inputs (without road rate) at the step's start and end.
    """

    march: FloatArray
    before: FloatArray
    after: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Batch:
    """Cars ready to be driven at one step length.

    `reading_rows` reads wheel travel, its rate and tyre load from the state; `acceleration_rows`
    and `input_rows` give body and hub accelerations from [state, bending forces] and the inputs.
    """

    step_s: float
    matrices: tuple[CarMatrices, ...]
    step: StepMatrices
    fill_forces: ForceFunction
    motion_ratio: FloatArray
    ratio_slope: FloatArray
    static_load: FloatArray
    reading_rows: FloatArray
    acceleration_rows: FloatArray
    input_rows: FloatArray


def make_batch(cars: Sequence[TrueCar], step_s: float) -> Batch:
    """Prepare cars for driving.

    Parameters
    ----------
    cars : Sequence[TrueCar]
        The cars.
    step_s : float
        Length of a time step [s].
    """
    matrices = tuple(car_matrices(car) for car in cars)
    forces = batch_forces(cars, matrices)
    return Batch(
        step_s=step_s,
        matrices=matrices,
        step=_step_matrices(matrices, step_s),
        fill_forces=force_function(forces),
        motion_ratio=forces.motion_ratio,
        ratio_slope=forces.ratio_slope,
        static_load=np.stack([car.static_load for car in matrices]),
        reading_rows=np.stack([reading_rows(car) for car in matrices]),
        acceleration_rows=np.stack(
            [_accelerations(car) @ np.hstack([car.state, car.force]) for car in matrices]
        ),
        input_rows=np.stack([_accelerations(car) @ car.input for car in matrices]),
    )


def _accelerations(car: CarMatrices) -> FloatArray:
    """Rows that take body and hub accelerations from the state's rate, shape (8, states)."""
    rows = np.zeros((8, STATES))
    rows[:4, COORDINATES : 2 * COORDINATES] = car.body_of_coordinates
    rows[4:, COORDINATES + 4 : 2 * COORDINATES] = np.eye(4)
    return rows


def held_integrals(
    state: FloatArray, source: FloatArray, step_s: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Exact step of state' = A state + B s for a source that runs in a straight line.

    Returns
    -------
    tuple[FloatArray, FloatArray, FloatArray]
        Phi, G, R with next = Phi state + G s(start) + R (s(end) - s(start)).

    References
    ----------
    Van Loan, IEEE Trans. Automatic Control 23 (1978) 395: integrals from one exponential (from
    memory).
    """
    from scipy.linalg import expm

    n, m = source.shape
    block = np.zeros((n + 2 * m, n + 2 * m))
    block[:n, :n] = state * step_s
    block[:n, n : n + m] = source * step_s
    block[n : n + m, n + m :] = np.eye(m)
    result = expm(block)
    return result[:n, :n], result[:n, n : n + m], result[:n, n + m :]


def reading_rows(car: CarMatrices) -> FloatArray:
    """Rows that read wheel travel, its rate, and tyre load (no road, no static part)."""
    n = COORDINATES
    rows = np.zeros((READINGS, STATES))
    rows[:4, :n] = car.travel_of_coordinates
    rows[4:8, n : 2 * n] = car.travel_of_coordinates
    rows[8:, 4:n] = -np.diag(car.tyre_rate)
    rows[8:, n + 4 : 2 * n] = -np.diag(car.tyre_damping)
    return rows


def _step_matrices(cars: Sequence[CarMatrices], step_s: float) -> StepMatrices:
    march, before, after = [], [], []
    for car in cars:
        source = np.hstack([car.force, car.input])
        phi, start, rise = held_integrals(car.state, source, step_s)
        force_now = start[:, :FORCES] + rise[:, :FORCES]
        force_last = -rise[:, :FORCES]
        first, last = _input_steps(start[:, FORCES:], rise[:, FORCES:], step_s)
        read = np.vstack([reading_rows(car), np.eye(STATES)])
        march.append(read @ np.hstack([phi, force_now, force_last]))
        before.append(read @ first)
        after.append(read @ last)
        # Tyre load also sees the road itself, at the end of the step.
        load = np.arange(4)
        rows = 8 + load
        after[-1][rows, load] += car.tyre_rate + car.tyre_damping / step_s
        before[-1][rows, load] -= car.tyre_damping / step_s
    return StepMatrices(march=np.stack(march), before=np.stack(before), after=np.stack(after))


def _input_steps(
    start: FloatArray, rise: FloatArray, step_s: float
) -> tuple[FloatArray, FloatArray]:
    """Fold the road's rate, constant within a step, into its heights at both ends."""
    first, last = start - rise, rise.copy()
    rate = start[:, 4:8] / step_s
    first[:, :4] -= rate
    last[:, :4] += rate
    keep = np.r_[0:4, 8:INPUTS]
    return first[:, keep], last[:, keep]
