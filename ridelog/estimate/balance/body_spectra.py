"""Spectra of the body over each axle, measured and as the fitted forces move it."""

from __future__ import annotations

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.fit import BalanceFit
from ridelog.estimate.balance.rows import BlockRows, corner_weights
from ridelog.estimate.balance.transform import ComplexArray, smoothed_power
from ridelog.estimate.curves import SpectrumCurve
from ridelog.recording import AXLES

_STEP_HZ = 0.15


def body_spectra(fit: BalanceFit, car: Car) -> tuple[SpectrumCurve, ...]:
    """Measured and fitted power spectral density over the front and the rear axle.

    Parameters
    ----------
    fit : BalanceFit
        The fit.
    car : Car
        Masses and lever ratios.

    References
    ----------
    Derived here from the heave and pitch rows.
    """
    block = fit.blocks[0]
    transform = block.motion.transform
    rate = transform.sample_rate_hz
    # One-sided density of a gated record: twice the power over rate and effective samples.
    scale = 2 / (rate * float(np.sum(block.gate**2)))
    measured = np.stack([block.body[0:2].mean(axis=0), block.body[2:4].mean(axis=0)])
    bins = max(1, int(_STEP_HZ / transform.frequency_hz[1]))
    both = np.concatenate([measured, _fitted(fit, block, car)])
    density = smoothed_power(np.abs(both) ** 2 * scale, bins)
    thin = slice(bins // 2, None, bins)
    return tuple(
        SpectrumCurve(
            label=f"body over the {name} axle",
            place=name,
            unit="m/s2",
            frequency_hz=transform.frequency_hz[block.band][thin],
            measured=density[number][thin],
            fitted=density[2 + number][thin],
        )
        for number, name in enumerate(AXLES)
    )


def _fitted(fit: BalanceFit, block: BlockRows, car: Car) -> ComplexArray:
    """Body acceleration over both axles that the fitted forces cause, shape (2, f)."""
    layout, parameters = fit.layout, fit.parameters
    weights = corner_weights(car, fit.calibration.log_motion_ratio)
    mass = np.array([car.front.sprung_mass_kg, car.rear.sprung_mass_kg])
    forces = np.stack(
        [parameters[layout.corner(corner)] @ block.columns[corner] for corner in range(4)]
    )
    heave, pitch = weights[:2] @ forces
    difference = pitch / (parameters[layout.dynamic_index] * mass.prod() / mass.sum())
    front = (heave + mass[1] * difference) / mass.sum()
    return np.stack([front, front - difference])
