"""Whitened normal equations of the balance: heave, pitch and roll of all stretches together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.channel_columns import channel_columns
from ridelog.estimate.balance.kinematics import Calibration
from ridelog.estimate.balance.layout import Layout
from ridelog.estimate.balance.rows import BlockRows, body_weights, corner_weights
from ridelog.estimate.balance.slow_forces import real_pairs, slow_directions, without_slow
from ridelog.estimate.balance.transform import ComplexArray, smoothed_power
from ridelog.recording import FloatArray


def normal_equations(
    rows: Sequence[BlockRows],
    car: Car,
    layout: Layout,
    calibration: Calibration,
    parameters: FloatArray | None,
    *,
    noise_step_hz: float,
    slow_acceleration_m_per_s2: float,
) -> tuple[FloatArray, FloatArray, float]:
    """Normal matrix, right-hand side, and the share of the body force left unexplained.

    Parameters
    ----------
    rows : sequence of BlockRows
        Stretches of log.
    car : Car
        Masses and lever ratios.
    layout : Layout
        Places of the parameters.
    calibration : Calibration
        Corrections already made to the channels.
    parameters : ndarray or None
        Current parameters [mixed], shape (parameters,); None before the first solution.
    noise_step_hz : float
        Width over which the residual's power is averaged [Hz].
    slow_acceleration_m_per_s2 : float
        Standard deviation of slow accelerations that no spring or damper explains [m/s2].

    Returns
    -------
    tuple
        Matrix (parameters, parameters), vector (parameters,), ratio [-].

    References
    ----------
    Generalised least squares as in any text on estimation; the likelihood's change-of-variables
    term for pitch and roll is derived here.
    """
    assembled = [_design(block, car, layout, calibration, parameters) for block in rows]
    heave = float(np.mean([np.abs(target[0]) ** 2 for target, _ in assembled]))
    slow_force = slow_acceleration_m_per_s2 * _row_masses(car)
    noise = np.full(assembled[0][0].shape, 1e-3 * heave)
    left = heave
    if parameters is not None:
        power = np.mean(
            [
                _unexplained_power(
                    block,
                    target - np.tensordot(parameters, design, axes=1),
                    slow_force,
                    1e-3 * heave,
                )
                for block, (target, design) in zip(rows, assembled, strict=True)
            ],
            axis=0,
        )
        left = float(np.mean(power[0]))
        transform = rows[0].motion.transform
        noise = smoothed_power(power, int(noise_step_hz / transform.frequency_hz[1]))
    weight = np.sqrt(2 / noise)
    normal = np.zeros((layout.count, layout.count))
    projected = np.zeros(layout.count)
    for block, (target, design) in zip(rows, assembled, strict=True):
        flat, goal = real_pairs(design * weight), real_pairs(target * weight)
        normal += np.tensordot(flat, flat, axes=([1, 2], [1, 2]))
        projected += np.tensordot(flat, goal, axes=2)
        if block.slow is None:
            continue
        for row in range(3):
            taken = slow_directions(block.slow * slow_force[row], weight[row])
            shared = flat[:, row] @ taken
            normal -= shared @ shared.T
            projected -= shared @ (goal[row] @ taken)
    if parameters is not None:
        readings = 2 * sum(target.shape[1] for target, _ in assembled)
        _weigh_inertias(normal, projected, layout, parameters, readings)
    return normal, projected, float(np.sqrt(left / heave))


def _weigh_inertias(
    normal: FloatArray, projected: FloatArray, layout: Layout, parameters: FloatArray, readings: int
) -> None:
    """Add what keeps pitch and roll from shrinking to nothing, in place.

    Those rows have no known side: all their terms made smaller together leave a smaller residual
    and explain nothing. What is measured is the acceleration, so its likelihood holds the inertia
    to the power of the readings; this is that term to second order.
    """
    for place in (layout.dynamic_index, layout.roll_inertia):
        inertia = parameters[place]
        if inertia > 0:
            normal[place, place] += readings / inertia**2
            projected[place] += 2 * readings / inertia


def _row_masses(car: Car) -> FloatArray:
    """What a body acceleration of all corners amounts to in each row [kg, kg, kg m], shape (3,)."""
    half_track = 0.25 * (car.front.track_m + car.rear.track_m)
    return car.sprung_mass_kg * np.array([1.0, 1.0, half_track])


def _unexplained_power(
    block: BlockRows, residual: ComplexArray, slow_force: FloatArray, noise_power: float
) -> FloatArray:
    """Power of the residual rows (3, f) once slow forces are taken off."""
    if block.slow is not None:
        weight = np.full(residual.shape[1], np.sqrt(2 / noise_power))
        residual = np.stack(
            [
                without_slow(row, block.slow * force, weight)
                for row, force in zip(residual, slow_force, strict=True)
            ]
        )
    return np.asarray(np.abs(residual) ** 2)


def _design(
    block: BlockRows,
    car: Car,
    layout: Layout,
    calibration: Calibration,
    parameters: FloatArray | None,
) -> tuple[ComplexArray, ComplexArray]:
    """Target (3, f) and design (parameters, 3, f) of one stretch."""
    weights = corner_weights(car, calibration.log_motion_ratio)
    design = np.zeros((layout.count, 3, block.columns.shape[2]), complex)
    for corner in range(4):
        shares = weights[:, corner][None, :, None]
        design[layout.corner(corner)] = shares * block.columns[corner][:, None, :]
    unit = body_weights(car, 1.0, 1.0)
    sums = np.einsum("rc,cf->rf", unit, block.body)
    design[layout.dynamic_index, 1] = -sums[1]
    design[layout.roll_inertia, 2] = -sums[2]
    for axle in range(2):
        difference = block.columns[2 * axle, 0] - block.columns[2 * axle + 1, 0]
        design[layout.bar(axle), 2] = weights[2, 2 * axle] * difference
    target = np.zeros((3, block.columns.shape[2]), complex)
    target[0] = sums[0]
    if parameters is not None:
        sensors = body_weights(
            car, parameters[layout.dynamic_index], parameters[layout.roll_inertia]
        )
        design[layout.mechanical_count :] = channel_columns(
            block, car, layout, parameters, weights, sensors
        )
    return target, design
