"""What springs, dampers and friction leave unexplained: the force the stops must have made."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.estimate.balance.basis import force_columns
from ridelog.estimate.balance.clipped_hubs import cut_off
from ridelog.estimate.balance.fit import BalanceFit
from ridelog.estimate.balance.hit_motion import damper_acceleration, smoothed_motion
from ridelog.estimate.balance.layout import BODY_DELAY
from ridelog.estimate.balance.lever import lever_matrix_of_car
from ridelog.estimate.balance.motion import correct, lowpass
from ridelog.estimate.balance.rows import BlockRows, body_weights, corner_weights
from ridelog.estimate.balance.signals import CornerSignals
from ridelog.estimate.balance.transform import ComplexArray, end_taper
from ridelog.estimate.owed_force import OwedForce
from ridelog.recording import BoolArray, FloatArray

# Travel differentiated: wheel hop and the way into a stop, not the sensor's steps.
_SPEED_LIMIT_HZ = 50.0
_TAPER_S = 1.5
# A reading at the limit spoils its neighbours by the sensor's own filter.
_BESIDE_LIMIT_S = 0.004
# Speed beyond which the fitted damper curve rests on few samples, as a quantile of those used.
_FAST_QUANTILE = 0.98
# The gate's full weight, and how much a damper may differ from its fitted curve.
_FULL_GATE = 0.99


def owed_forces(fit: BalanceFit, parts: Sequence[CornerSignals], car: Car) -> tuple[OwedForce, ...]:
    """Forces and moments on the body that the fit does not explain, stretch by stretch.

    Parameters
    ----------
    fit : BalanceFit
        A fit made away from the stops.
    parts : sequence of CornerSignals
        The stretches of the fit, with travel; `use` is False only where readings are missing.
    car : Car
        Masses and lever ratios.

    Notes
    -----
    A hit drives hubs to their limit just when it matters, so travel and its rate are not those of
    the fit: see `smoothed_motion`. Without hubs they are the travel sensors' own.

    References
    ----------
    Derived here: the rows of `corner_weights` less what the fit puts there.
    """
    return tuple(
        _owed_force(fit, block, part, car) for block, part in zip(fit.blocks, parts, strict=True)
    )


def _owed_force(fit: BalanceFit, block: BlockRows, part: CornerSignals, car: Car) -> OwedForce:
    if part.travel_m is None:
        raise ValueError("forces of the stops are sought with travel sensors only")
    motion, layout, parameters = block.motion, fit.layout, fit.parameters
    median = np.median(part.travel_m, axis=1, keepdims=True)
    travel, speed = _sensor_motion(part.travel_m - median, fit, block)
    if part.hub_m_per_s2 is not None:
        travel, speed = _aided_motion(travel, fit, block, part, car)
    weights = corner_weights(car, fit.calibration.log_motion_ratio)
    sensors = body_weights(car, parameters[layout.dynamic_index], parameters[layout.roll_inertia])
    owed = sensors @ motion.transform.inverse(_body_spectra(fit, block))
    for corner in range(4):
        curves = force_columns(
            speed[corner],
            layout.basis,
            speed_noise_m_per_s=float(motion.speed_noise_m_per_s[corner]),
        )
        values = parameters[layout.corner(corner)]
        between = values[1:] @ curves
        # Curves are means over the interval behind each sample: half a sample late.
        between[1:] = 0.5 * (between[1:] + between[:-1])
        force = values[0] * travel[corner] + between
        owed -= weights[:, corner, None] * force
    for axle in range(2):
        side = travel[2 * axle] - travel[2 * axle + 1]
        owed[2] -= weights[2, 2 * axle] * parameters[layout.bar(axle)] * side
    used = speed[:, block.gate > _FULL_GATE]
    return OwedForce(
        sample_rate_hz=part.sample_rate_hz,
        owed_n=owed,
        share=weights,
        travel_m=travel + median,
        speed_m_per_s=speed,
        whole=_whole(part),
        inside=block.gate_ends(),
        fast_m_per_s=np.quantile(used, (1 - _FAST_QUANTILE, _FAST_QUANTILE), axis=1).T,
        spring_rate_n_per_m=np.array([parameters[layout.corner(c)][0] for c in (0, 2)]),
        critical_damping_n_s_per_m=np.array([_critical_damping(a) for a in (car.front, car.rear)]),
    )


def _body_spectra(fit: BalanceFit, block: BlockRows) -> ComplexArray:
    """Body acceleration (4, f) with the delays found since the motion was worked out."""
    spectra = block.motion.body.copy()
    if BODY_DELAY not in fit.layout.groups:
        return spectra
    found_s = fit.parameters[fit.layout.group(BODY_DELAY)]
    return correct(spectra, np.zeros(4), found_s, block.motion.transform)


def _sensor_motion(
    travel: FloatArray, fit: BalanceFit, block: BlockRows
) -> tuple[FloatArray, FloatArray]:
    """Damper travel [m] and speed [m/s] by the travel sensors, their gains and delays undone."""
    transform = block.motion.transform
    window = end_taper(transform.sample_count, transform.sample_rate_hz, _TAPER_S)
    spectra = transform.forward(travel * window)
    calibration = fit.calibration
    spectra = correct(spectra, calibration.travel_log_gain, calibration.travel_delay_s, transform)
    rate = 1j * transform.angular_rad_per_s * lowpass(transform, _SPEED_LIMIT_HZ)
    return transform.inverse(spectra), transform.inverse(spectra * rate)


def _aided_motion(
    travel: FloatArray, fit: BalanceFit, block: BlockRows, part: CornerSignals, car: Car
) -> tuple[FloatArray, FloatArray]:
    """Damper travel [m] and speed [m/s] by travel, hub and body sensors, through hits."""
    lever = lever_matrix_of_car(car)
    lever = lever * np.exp(np.repeat(fit.calibration.log_motion_ratio, 2))[:, None]
    acceleration, spoilt = damper_acceleration(
        part, block.motion.body, fit.calibration, lever, block.motion.transform, _TAPER_S
    )
    pairs = [
        smoothed_motion(*rows, part.sample_rate_hz)
        for rows in zip(travel, acceleration, spoilt, strict=True)
    ]
    return np.stack([each for each, _ in pairs]), np.stack([each for _, each in pairs])


def _whole(part: CornerSignals) -> BoolArray:
    """Samples with all readings, and none of the body's at its limit, shape (n,)."""
    spoilt = ~part.use
    for body in part.body_m_per_s2:
        spoilt |= cut_off(body)
    width = 2 * round(_BESIDE_LIMIT_S * part.sample_rate_hz) + 1
    return np.asarray(np.convolve(spoilt, np.ones(width), mode="same") < 0.5)


def _critical_damping(axle: Axle) -> float:
    """Critical damping of an axle's corner, at the damper [N s/m]."""
    return float(np.sqrt(2 * axle.spring_rate_n_per_m * axle.sprung_mass_kg) / axle.motion_ratio)
