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
from ridelog.estimate.balance.identity_rows import (
    IdentityBlock,
    IdentityRow,
    identity_rows,
)
from ridelog.estimate.balance.signals import CornerSignals, smooth_gate
from ridelog.estimate.balance.transform import end_taper, make_transform, smoothed_power
from ridelog.recording import FloatArray

# Above the band the channels fade out over this much.
_FALL_HZ = 8.0

# Taper, clearance and ramp at either end of a stretch.
_END_MARGIN_S = 2.5


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
    # Power by which the four body sensors miss one plane, over their own: 1e-4 on a stiff body
    # with cheap sensors, above 1 on a soft one.
    twisting_body_ratio: float = 0.01


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Calibration:
    """Corrections per channel, order fl fr rl rr, and their doubt.

    Multiply a reading by exp(`log_gain`) and advance it by `delay_s`. `covariance` is of
    (log gains travel, hub, body; delays travel, hub, body; log motion ratio front, rear), shape
    (26, 26). `misfit_ratio` is the power the identity leaves unexplained, `surprise_sd` the largest
    correction in standard deviations of its prior. `body_twists` says that the four body sensors
    do not move in one plane, and were not asked to.
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
    body_twists: bool = False


def body_delay_covariance(calibration: Calibration) -> FloatArray:
    """Covariance of what the identity leaves open of the body's delays [s2], shape (4, 4).

    Parameters
    ----------
    calibration : Calibration
        What the identity found.

    Notes
    -----
    Against the travel of the same corner: what delays all sensors alike is no matter.
    """
    apart = np.eye(26)[20:24] - np.eye(26)[12:16]
    return np.asarray(apart @ calibration.covariance @ apart.T)


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
    the residual's own spectrum. Where the four body sensors plainly do not move in one plane, the
    row that asks them to is left out.

    References
    ----------
    Derived here from rigid-body kinematics.
    """
    settings = settings or KinematicSettings()
    prepared = [_prepare_block(block, settings) for block in blocks]
    step_bins = int(settings.noise_step_hz / prepared[0].step_hz)
    prior = prior_covariance(car, settings)
    precision = np.asarray(np.linalg.inv(prior), dtype=float)
    corrections = np.zeros(26)
    normal = precision
    twists = False
    rows: list[list[IdentityRow]] = []
    band = prepared[0].band
    share = np.ones((4, band.stop - band.start))
    # Beside holes in the log the residual is what gating smears, not the accelerometers' noise.
    margin = int(_END_MARGIN_S * blocks[0].sample_rate_hz)
    whole = all(bool(block.use[margin:-margin].all()) for block in blocks)
    for _ in range(settings.passes):
        rows = [identity_rows(block, car, corrections, share) for block in prepared]
        twists = twists or _out_of_plane(rows) > settings.twisting_body_ratio
        if twists:
            rows = [block_rows[0:4] for block_rows in rows]
        residuals = np.array([[row.residual for row in block] for block in rows])
        power = np.mean(np.abs(residuals) ** 2, axis=0)
        weight = np.asarray(1 / np.sqrt(smoothed_power(power, step_bins)), dtype=float)
        normal = precision.copy()
        gradient = precision @ corrections
        for block_rows in rows:
            for row, row_weight in zip(block_rows, weight, strict=True):
                row.add_to(normal, gradient, row_weight)
        corrections = corrections - np.linalg.solve(normal, gradient)
        if whole:
            share = _motion_share(rows, share, prepared[0].omega[band], step_bins, settings)
    corners = [row for block_rows in rows for row in block_rows[0:4]]
    left = sum(float(np.sum(np.abs(row.residual) ** 2)) for row in corners)
    moved = sum(float(np.sum(np.abs(row.derivatives[0]) ** 2)) for row in corners)
    return Calibration(
        travel_log_gain=corrections[0:4],
        hub_log_gain=corrections[4:8],
        body_log_gain=corrections[8:12],
        travel_delay_s=corrections[12:16],
        hub_delay_s=corrections[16:20],
        body_delay_s=corrections[20:24],
        log_motion_ratio=corrections[24:26],
        covariance=np.asarray(np.linalg.inv(normal), dtype=float),
        misfit_ratio=left / moved,
        surprise_sd=float(np.max(np.abs(corrections) / np.sqrt(np.diag(prior)))),
        body_twists=twists,
    )


def _out_of_plane(rows: Sequence[Sequence[IdentityRow]]) -> float:
    """Power of the rigid-body row over the power of its four terms; 0 where the row is gone."""
    missed = terms = 0.0
    for block_rows in rows:
        for row in block_rows[4:]:
            missed += float(np.sum(np.abs(row.residual) ** 2))
            # The derivative by a body gain is that sensor's term less its share of the mean.
            terms += float(np.sum(np.abs(row.derivatives[0:4] + row.residual / 4) ** 2))
    return missed / terms if terms > 0 else 0.0


def _prepare_block(signals: CornerSignals, settings: KinematicSettings) -> IdentityBlock:
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
    stacked -= np.mean(stacked, axis=1, keepdims=True)
    wide = slice(0, transform.band(0.0, settings.high_hz + _FALL_HZ).stop)
    spectra = np.stack([transform.weighted(channel, taper)[wide] for channel in stacked])
    frequency = transform.frequency_hz[wide]
    rise = np.clip((frequency - 0.5 * settings.low_hz) / (0.4 * settings.low_hz), 0, 1)
    fall = np.clip((settings.high_hz + _FALL_HZ - frequency) / 5.0, 0, 1)
    # Keep a little more than the band, so that gating afterwards does not leak out of it.
    spectra *= rise * fall
    omega = 2 * np.pi * frequency
    spectra[0:4] *= -(omega**2)
    return IdentityBlock(
        spectra=spectra,
        omega=omega,
        band=transform.band(settings.low_hz, settings.high_hz),
        step_hz=float(transform.frequency_hz[1]),
        transform=transform,
        gate=gate,
    )


def _motion_share(
    rows: Sequence[Sequence[IdentityRow]],
    share: FloatArray,
    omega: FloatArray,
    step_bins: int,
    settings: KinematicSettings,
) -> FloatArray:
    """Wiener gain of hub minus body acceleration: motion, not noise; shape (4, f).

    Noise in what explains travel would make every gain look too small, most on a smooth road.
    """
    frequency = omega / (2 * np.pi)
    low, high = settings.inertial_noise_band_hz
    quiet = (frequency >= low) & (frequency <= high)
    if not quiet.any():
        return share
    corners = [block_rows[0:4] for block_rows in rows]
    left = np.mean([[np.abs(row.residual) ** 2 for row in block] for block in corners], axis=0)
    # The derivative by the log of the travel gain is the explained part itself.
    explained = np.mean(
        [[np.abs(row.derivatives[0]) ** 2 for row in block] for block in corners], axis=0
    )
    power = smoothed_power(explained / np.maximum(share, 0.1) ** 2, step_bins)
    noise = np.mean(left[:, quiet], axis=1, keepdims=True)
    return np.asarray(np.maximum(1 - noise / power, 0.0))
