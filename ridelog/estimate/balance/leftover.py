"""What springs, dampers and friction leave unexplained, as a force at each damper."""

from __future__ import annotations

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.basis import force_columns
from ridelog.estimate.balance.fit import BalanceFit
from ridelog.estimate.balance.rows import body_weights, corner_weights
from ridelog.recording import FloatArray

# The body's slow tilt and the sensors' noise lie outside this band.
_LEFTOVER_BAND_HZ = (0.3, 40.0)


def leftover_force_n(fit: BalanceFit, car: Car) -> FloatArray:
    """Force at each damper that the fit does not explain [N], shape (4, n).

    Parameters
    ----------
    fit : BalanceFit
        A fit made away from the stops.
    car : Car
        Masses and lever ratios.

    Notes
    -----
    Heave, pitch and roll of the body give three forces for four corners: what an axle is owed in
    heave and pitch is shared evenly, roll by half per axle. A stop hit at one corner shows there in
    full and not at its partner.

    References
    ----------
    Derived here by inverting the rows of `corner_weights`.
    """
    return np.concatenate(
        [_block_leftover(fit, car, number) for number in range(len(fit.blocks))], axis=1
    )


def _block_leftover(fit: BalanceFit, car: Car, number: int) -> FloatArray:
    block, layout, parameters = fit.blocks[number], fit.layout, fit.parameters
    motion = block.motion
    transform = motion.transform
    travel, speed = motion.travel_m(), motion.speed_m_per_s()
    weights = corner_weights(car, fit.calibration.log_motion_ratio)
    sensors = body_weights(car, parameters[layout.dynamic_index], parameters[layout.roll_inertia])
    owed = sensors @ transform.inverse(motion.body)
    for corner in range(4):
        curves = force_columns(
            speed[corner],
            layout.basis,
            speed_noise_m_per_s=float(motion.speed_noise_m_per_s[corner]),
        )
        values = parameters[layout.corner(corner)]
        force = values[0] * travel[corner] + values[1:] @ curves
        owed -= weights[:, corner, None] * force
    for axle in range(2):
        side = travel[2 * axle] - travel[2 * axle + 1]
        owed[2] -= weights[2, 2 * axle] * parameters[layout.bar(axle)] * side
    spectrum = transform.forward(owed)
    low, high = _LEFTOVER_BAND_HZ
    keep = (transform.frequency_hz > low) & (transform.frequency_hz < high)
    heave, pitch, roll = transform.inverse(spectrum * keep)
    mass = np.array([car.front.sprung_mass_kg, car.rear.sprung_mass_kg])
    axle_force = np.stack(
        [heave * mass[0] / mass.sum() + pitch, heave * mass[1] / mass.sum() - pitch]
    )
    forces = np.empty((4, heave.shape[0]))
    for corner in range(4):
        shared = axle_force[corner // 2] / (2 * weights[0, corner])
        forces[corner] = shared + roll / (2 * weights[2, corner])
    return forces
