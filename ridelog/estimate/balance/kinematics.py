"""Sensors calibrate each other: travel, hub and body at a corner obey one identity.

The second derivative of damper travel equals the lever times hub minus body acceleration,
whatever the road. Fitting it over all corners gives every channel's gain and delay relative to
the others, far better than a cheap sensor's data sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Car
from ridelog.car.geometry import damper_lever_matrix
from ridelog.estimate.balance.signals import CornerSignals, smooth_gate
from ridelog.estimate.balance.transform import (
    ComplexArray,
    Transform,
    end_taper,
    make_transform,
    smoothed_power,
)
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class KinematicSettings:
    """How the identity is fitted, and how well sensors are known beforehand."""

    low_hz: float = 1.0  # below, tilt of the accelerometers under braking enters
    high_hz: float = 25.0  # above, quantised travel differentiated twice is noise
    taper_s: float = 1.5
    clearance_s: float = 0.3  # memory of the band-pass around an unusable sample
    ramp_s: float = 0.2
    common_delay_sd_s: float = 0.003  # an unknown anti-alias filter delays all accelerometers
    passes: int = 5
    noise_step_hz: float = 1.0
    # Here travel, differentiated twice, is quiet: what is left unexplained is the accelerometers'.
    inertial_noise_band_hz: tuple[float, float] = (1.0, 2.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Calibration:
    """Corrections per channel, order fl fr rl rr, and their doubt.

    Multiply a reading by exp(`log_gain`) and advance it by `delay_s`. `covariance` is of
    (log gains travel, hub, body; delays travel, hub, body; log motion ratio front, rear), shape
    (26, 26). `misfit_ratio` is the power the identity leaves unexplained, `surprise_sd` the largest
    correction in standard deviations of its prior.
    """

    travel_log_gain: FloatArray
    hub_log_gain: FloatArray
    body_log_gain: FloatArray
    travel_delay_s: FloatArray
    hub_delay_s: FloatArray
    body_delay_s: FloatArray
    log_motion_ratio: FloatArray
    covariance: FloatArray
    misfit_ratio: float
    surprise_sd: float


def no_calibration() -> Calibration:
    """Corrections of channels that nothing checks: none."""
    zeros = np.zeros(4)
    return Calibration(
        travel_log_gain=zeros,
        hub_log_gain=zeros,
        body_log_gain=zeros,
        travel_delay_s=zeros,
        hub_delay_s=zeros,
        body_delay_s=zeros,
        log_motion_ratio=np.zeros(2),
        covariance=np.zeros((26, 26)),
        misfit_ratio=0.0,
        surprise_sd=0.0,
    )


def lever_matrix_of_car(car: Car) -> FloatArray:
    """Damper travel per wheel travel of all corners, shape (4, 4)."""
    lever = np.zeros((4, 4))
    lever[:2, :2] = damper_lever_matrix(car.front)
    lever[2:, 2:] = damper_lever_matrix(car.rear)
    return lever


def prior_covariance(car: Car, settings: KinematicSettings) -> FloatArray:
    """Covariance of the 26 corrections before the log is read, shape (26, 26)."""
    tolerance = car.tolerances
    variance = np.zeros(26)
    variance[0:4] = tolerance.travel_gain**2
    variance[4:12] = tolerance.accelerometer_gain**2
    variance[12:24] = tolerance.channel_delay_s**2
    variance[24:26] = tolerance.motion_ratio**2
    covariance = np.diag(variance)
    covariance[16:24, 16:24] += settings.common_delay_sd_s**2
    return covariance


def calibrate_kinematics(
    blocks: Sequence[CornerSignals], car: Car, settings: KinematicSettings | None = None
) -> Calibration:
    """Gain and delay of every channel from travel, hub and body together.

    Parameters
    ----------
    blocks : sequence of CornerSignals
        Stretches of log of equal length, with all three kinds of sensors.
    car : Car
        Motion ratios, spacings and tolerances.
    settings : KinematicSettings, optional
        Bands and priors.

    Returns
    -------
    Calibration
        Corrections with their covariance.

    Notes
    -----
    Gauss-Newton on the frequency-domain rows, each divided by its own travel gain so that
    shrinking all gains together cannot shrink the residual (total least squares); weights from
    the residual's own spectrum. A body that twists spoils one row only, and its own residual
    then takes the weight from it.

    References
    ----------
    Derived here from rigid-body kinematics.
    """
    settings = settings or KinematicSettings()
    prepared = [_prepare_block(block, settings) for block in blocks]
    transform = prepared[0].transform
    step_bins = int(settings.noise_step_hz / transform.frequency_hz[1])
    prior = prior_covariance(car, settings)
    precision = np.linalg.inv(prior)
    corrections = np.zeros(26)
    normal = precision
    left, moved = 1.0, 1.0
    share = np.ones((4, 1))
    for _ in range(settings.passes):
        rows = [_identity_rows(block, car, corrections, share, settings) for block in prepared]
        power = np.mean([np.abs(residual) ** 2 for residual, _ in rows], axis=0)
        weight = 1 / np.sqrt(smoothed_power(power, step_bins))
        normal = precision.copy()
        gradient = precision @ corrections
        for residual, jacobian in rows:
            flat = (jacobian * weight[None]).reshape(26, -1)
            # Real and imaginary parts each carry half of the power.
            normal += 2 * np.real(flat @ flat.conj().T)
            gradient += 2 * np.real(flat.conj() @ (residual * weight).reshape(-1))
        corrections = corrections - np.linalg.solve(normal, gradient)
        share = _motion_share(rows, share, transform, settings)
        left = sum(float(np.sum(np.abs(residual[0:4]) ** 2)) for residual, _ in rows)
        moved = sum(float(np.sum(np.abs(jacobian[0:4]) ** 2)) for _, jacobian in rows)
    return Calibration(
        travel_log_gain=corrections[0:4],
        hub_log_gain=corrections[4:8],
        body_log_gain=corrections[8:12],
        travel_delay_s=corrections[12:16],
        hub_delay_s=corrections[16:20],
        body_delay_s=corrections[20:24],
        log_motion_ratio=corrections[24:26],
        covariance=np.linalg.inv(normal),
        misfit_ratio=left / moved,
        surprise_sd=float(np.max(np.abs(corrections) / np.sqrt(np.diag(prior)))),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Block:
    """Spectra of one stretch: travel differentiated twice, hub, body; shape (12, f)."""

    transform: Transform
    gate: FloatArray
    spectra: ComplexArray


def _prepare_block(signals: CornerSignals, settings: KinematicSettings) -> _Block:
    if signals.travel_m is None or signals.hub_m_per_s2 is None:
        raise ValueError("the kinematic identity needs travel and hub signals")
    transform = make_transform(signals.sample_count, signals.sample_rate_hz)
    taper = end_taper(signals.sample_count, signals.sample_rate_hz, settings.taper_s)
    gate = smooth_gate(
        signals.use & (taper > 0.999),
        signals.sample_rate_hz,
        clearance_s=settings.clearance_s,
        ramp_s=settings.ramp_s,
    )
    stacked = np.concatenate([signals.travel_m, signals.hub_m_per_s2, signals.body_m_per_s2])
    stacked = stacked - np.mean(stacked, axis=1, keepdims=True)
    spectra = _wide_band(transform.forward(stacked * taper), transform, settings)
    spectra[0:4] *= -(transform.angular_rad_per_s**2)
    return _Block(transform=transform, gate=gate, spectra=spectra)


def _wide_band(
    spectra: ComplexArray, transform: Transform, settings: KinematicSettings
) -> ComplexArray:
    """Keep a little more than the band, so that gating afterwards does not leak out of it."""
    frequency = transform.frequency_hz
    rise = np.clip((frequency - 0.5 * settings.low_hz) / (0.4 * settings.low_hz), 0, 1)
    fall = np.clip((settings.high_hz + 8.0 - frequency) / 5.0, 0, 1)
    return np.asarray(spectra * (rise * fall))


def _identity_rows(
    block: _Block,
    car: Car,
    corrections: FloatArray,
    share: FloatArray,
    settings: KinematicSettings,
) -> tuple[ComplexArray, ComplexArray]:
    """Residual rows (5, f) and their derivatives (26, 5, f) at the current corrections."""
    transform = block.transform
    omega = transform.angular_rad_per_s
    gains, delays = corrections[0:12], corrections[12:24]
    lever = lever_matrix_of_car(car) * np.repeat(np.exp(corrections[24:26]), 2)[:, None]
    shifted = block.spectra * np.exp(gains)[:, None] * np.exp(1j * omega * delays[:, None])
    band = transform.band(settings.low_hz, settings.high_hz)
    both = np.concatenate([shifted, 1j * omega * shifted])
    gated = transform.forward(transform.inverse(both) * block.gate)[:, band]
    value, rate = gated[0:12], gated[12:24]
    travel, hub, body = value[0:4], value[4:8], value[8:12]
    scale = np.exp(-gains[0:4])[:, None]
    modelled = lever @ (hub - body) * scale * share
    residual = np.empty((5, travel.shape[1]), complex)
    residual[0:4] = travel * scale - modelled
    jacobian = np.zeros((26, 5, travel.shape[1]), complex)
    for corner in range(4):
        jacobian[corner, corner] = modelled[corner]
        jacobian[12 + corner, corner] = rate[corner] * scale[corner]
        for other in range(4):
            factor = lever[corner, other] * scale[corner] * share[corner]
            jacobian[4 + other, corner] = -factor * hub[other]
            jacobian[16 + other, corner] = -factor * rate[4 + other]
            jacobian[8 + other, corner] = factor * body[other]
            jacobian[20 + other, corner] = factor * rate[8 + other]
        jacobian[24 + corner // 2, corner] = -modelled[corner]
    twist = np.array([1, -1, -1, 1]) / np.repeat([car.front.track_m, car.rear.track_m], 2)
    body_scale = np.exp(-np.mean(gains[8:12]))
    residual[4] = body_scale * (twist @ body)
    for other in range(4):
        jacobian[8 + other, 4] = body_scale * twist[other] * body[other] - residual[4] / 4
        jacobian[20 + other, 4] = body_scale * twist[other] * rate[8 + other]
    return residual, jacobian


def _motion_share(
    rows: Sequence[tuple[ComplexArray, ComplexArray]],
    share: FloatArray,
    transform: Transform,
    settings: KinematicSettings,
) -> FloatArray:
    """Wiener gain of hub minus body acceleration: motion, not noise; shape (4, f).

    Noise in what explains travel would make every gain look too small, most on a smooth road.
    """
    band = transform.band(settings.low_hz, settings.high_hz)
    frequency = transform.frequency_hz[band]
    low, high = settings.inertial_noise_band_hz
    quiet = (frequency >= low) & (frequency <= high)
    if not quiet.any():
        return share
    left = np.mean([np.abs(residual[0:4]) ** 2 for residual, _ in rows], axis=0)
    # The derivative by the log of the motion ratio is the explained part itself.
    explained = np.mean(
        [[np.abs(jacobian[24 + c // 2, c]) ** 2 for c in range(4)] for _, jacobian in rows], axis=0
    )
    step_bins = int(settings.noise_step_hz / transform.frequency_hz[1])
    power = smoothed_power(explained / np.maximum(share, 0.1) ** 2, step_bins)
    noise = np.mean(left[:, quiet], axis=1, keepdims=True)
    return np.asarray(np.maximum(1 - noise / power, 0.0))
