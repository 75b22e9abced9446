"""Damper travel and speed at each corner from whatever sensors there are.

Travel knows the slow motion, hub minus body acceleration the fast one; each is used where its
own noise is the smaller.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Car
from ridelog.condition.order_statistics import median
from ridelog.estimate.balance.kinematics import Calibration
from ridelog.estimate.balance.lever import lever_matrix_of_car
from ridelog.estimate.balance.signals import CornerSignals
from ridelog.estimate.balance.transform import ComplexArray, Transform, end_taper, smoothed_power
from ridelog.recording import FloatArray

# Above the fall of the speed limit: nothing here moves a damper.
_HIGHEST_DELAYED_HZ = 90.0
# Steps over which power is averaged to tell motion from noise.
_POWER_STEP_HZ = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionSettings:
    """Limits of the relative motion."""

    taper_s: float = 1.5
    crossover_limits_hz: tuple[float, float] = (1.2, 5.0)
    body_limit_hz: float = 28.0  # above, the engine shakes the body and the suspension does not
    speed_limit_hz: float = 60.0
    accelerometer_noise_m_per_s2_rthz: float = 0.003  # entry-level parts, common practice
    noise_band_hz: tuple[float, float] = (70.0, 120.0)
    integration_limit_hz: float = 0.35  # without travel: slower motion is drift
    # Of the error expected of a speed from travel alone, the share that reversals of friction are
    # blurred by. Found on simulated cars: more reads damping low and friction high.
    travel_blur_share: float = 0.6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RelativeMotion:
    """Spectra of damper travel (4, f) and of body acceleration (4, f), calibrated.

    `speed_noise_m_per_s` (4,) is the error expected of the damper speed. `hub_share` and
    `body_share` (4, f) are the wheel travel that each accelerometer adds when there is no travel
    sensor, None otherwise.
    """

    transform: Transform
    travel: ComplexArray
    body: ComplexArray
    speed_noise_m_per_s: FloatArray
    hub_share: ComplexArray | None = None
    body_share: ComplexArray | None = None

    def travel_m(self) -> FloatArray:
        """Damper travel over time, shape (4, n)."""
        return self.transform.inverse(self.travel)

    def speed_m_per_s(self) -> FloatArray:
        """Damper speed over time, shape (4, n)."""
        return self.transform.inverse(1j * self.transform.angular_rad_per_s * self.travel)


def lowpass(transform: Transform, limit_hz: float) -> FloatArray:
    """Zero-phase low-pass gain that falls over half an octave from `limit_hz`, shape (f,).

    Parameters
    ----------
    transform : Transform
        Frequencies.
    limit_hz : float
        Where the fall begins [Hz].
    """
    position = np.clip((transform.frequency_hz / limit_hz - 1) / 0.4, 0, 1)
    return np.asarray(0.5 + 0.5 * np.cos(np.pi * position))


def travel_noise_density(
    travel: ComplexArray, transform: Transform, settings: MotionSettings
) -> FloatArray:
    """Power of travel noise per bin, shape (4,), from where the suspension no longer moves."""
    top = 0.48 * transform.sample_rate_hz
    low, high = settings.noise_band_hz
    if high > top:
        low, high = 0.6 * top, top
    band = transform.band(low, high)
    return np.asarray(median(np.abs(travel[:, band]) ** 2) / np.log(2))


def correct(
    spectra: ComplexArray, log_gain: FloatArray, delay_s: FloatArray, transform: Transform
) -> ComplexArray:
    """Undo gain errors and delays of channels, in place, shape (channels, f).

    Far above the band, where only the power of noise counts, delays are let be.
    """
    spectra *= np.exp(log_gain)[:, None]
    top = transform.band(0.0, _HIGHEST_DELAYED_HZ).stop
    omega = transform.angular_rad_per_s[:top]
    spectra[:, :top] *= np.exp(1j * omega * delay_s[:, None])
    return spectra


def relative_motion(
    signals: CornerSignals,
    car: Car,
    calibration: Calibration,
    transform: Transform,
    settings: MotionSettings | None = None,
) -> RelativeMotion:
    """Fuse travel with hub and body acceleration into one damper travel per corner.

    Parameters
    ----------
    signals : CornerSignals
        Body always; travel, hubs or both.
    car : Car
        Motion ratios and spacings.
    calibration : Calibration
        Gains and delays (zeros where unknown).
    transform : Transform
        Of the record.
    settings : MotionSettings, optional
        Limits.

    Notes
    -----
    With travel and hubs: complementary filter 1 / (1 + (f / f0)^4), f0 where the noise of
    travel equals that of twice integrated acceleration. Hubs alone: integration above
    `integration_limit_hz`. Then a Wiener gain in every case.

    References
    ----------
    Derived here; the Wiener gain is in any text on estimation.
    """
    settings = settings or MotionSettings()
    window = end_taper(signals.sample_count, signals.sample_rate_hz, settings.taper_s)
    body = _spectrum(signals.body_m_per_s2, window, transform)
    body = correct(body, calibration.body_log_gain, calibration.body_delay_s, transform)
    omega = transform.angular_rad_per_s
    limit = lowpass(transform, settings.speed_limit_hz)
    travel = hub_share = body_share = None
    if signals.travel_m is not None:
        travel = _spectrum(signals.travel_m, window, transform)
        travel = correct(travel, calibration.travel_log_gain, calibration.travel_delay_s, transform)
    if signals.hub_m_per_s2 is not None:
        hub = _spectrum(signals.hub_m_per_s2, window, transform)
        hub = correct(hub, calibration.hub_log_gain, calibration.hub_delay_s, transform)
        twice = -limit / np.maximum(omega, 0.1) ** 2
        if travel is None:
            twice *= _slow_cut(transform, settings)
        hub_share = hub * twice
        body_share = -body * twice * lowpass(transform, settings.body_limit_hz)
    lever = lever_matrix_of_car(car)
    lever = lever * np.exp(np.repeat(calibration.log_motion_ratio, 2))[:, None]
    inertial = None
    if hub_share is not None and body_share is not None:
        inertial = lever @ (hub_share + body_share)
    fused, noise = _fuse(travel, inertial, car, transform, settings)
    expected = _expected_share(fused, noise, transform)
    speed_power = np.sum(expected * noise * (omega * limit) ** 2, axis=1)
    blur_share = settings.travel_blur_share if inertial is None else 1.0
    scale = 2 / (transform.padded_count * np.sum(window**2))
    return RelativeMotion(
        transform=transform,
        travel=expected * fused * (limit if inertial is None else 1.0),
        body=body,
        speed_noise_m_per_s=blur_share * np.sqrt(speed_power * scale),
        hub_share=expected * hub_share if hub_share is not None and travel is None else None,
        body_share=expected * body_share if body_share is not None and travel is None else None,
    )


def _expected_share(travel: ComplexArray, noise: FloatArray, transform: Transform) -> FloatArray:
    """Wiener gain: share of the measured travel that is travel and not noise, shape (4, f).

    A regressor with noise in it makes springs and dampers look weaker than they are, most on a
    smooth road; its expected value does not.
    """
    bins = max(1, int(_POWER_STEP_HZ / transform.frequency_hz[1]))
    # Averaged as a multiple of the noise: both fall steeply, their ratio less so.
    ratio = smoothed_power(np.abs(travel) ** 2 / np.maximum(noise, 1e-300), bins)
    return np.asarray(np.maximum(1 - 1 / np.maximum(ratio, 1.0), 0.0))


def _slow_cut(transform: Transform, settings: MotionSettings) -> FloatArray:
    """High-pass gain for twice integrated acceleration, shape (f,)."""
    position = np.clip(transform.frequency_hz / settings.integration_limit_hz - 0.5, 0, 1)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * position))


def _fuse(
    travel: ComplexArray | None,
    inertial: ComplexArray | None,
    car: Car,
    transform: Transform,
    settings: MotionSettings,
) -> tuple[ComplexArray, FloatArray]:
    """Damper travel and the power of its noise per bin from what there is."""
    if travel is None:
        if inertial is None:
            raise ValueError("relative motion needs travel or hub signals")
        noise = _acceleration_noise(car, transform, settings)
        return inertial, noise * _slow_cut(transform, settings) ** 2
    if inertial is None:
        floor = travel_noise_density(travel, transform, settings)[:, None]
        return travel, np.broadcast_to(floor, travel.shape)
    return _from_both(travel, inertial, car, transform, settings)


def _spectrum(signals: FloatArray, window: FloatArray, transform: Transform) -> ComplexArray:
    centred = signals - median(signals)[:, None]
    return transform.weighted(centred, window)


def _acceleration_noise(car: Car, transform: Transform, settings: MotionSettings) -> FloatArray:
    """Power per bin of twice integrated hub minus body noise, shape (4, f)."""
    density = settings.accelerometer_noise_m_per_s2_rthz
    power = density**2 * transform.sample_count * transform.sample_rate_hz / 2
    lever = np.repeat([car.front.motion_ratio, car.rear.motion_ratio], 2)[:, None]
    square = np.maximum(transform.angular_rad_per_s, 0.1) ** 2
    return np.asarray(2 * lever**2 * power / square**2)


def _from_both(
    travel: ComplexArray,
    inertial: ComplexArray,
    car: Car,
    transform: Transform,
    settings: MotionSettings,
) -> tuple[ComplexArray, FloatArray]:
    travel_noise = travel_noise_density(travel, transform, settings)
    inertial_noise = _acceleration_noise(car, transform, settings)
    one_hz = int(1 / transform.frequency_hz[1])
    crossover = (inertial_noise[:, one_hz] / travel_noise) ** 0.25
    crossover = np.clip(crossover, *settings.crossover_limits_hz)[:, None]
    weight = 1 / (1 + ((transform.frequency_hz / crossover) ** 2) ** 2)
    noise = weight**2 * travel_noise[:, None] + (1 - weight) ** 2 * inertial_noise
    return weight * travel + (1 - weight) * inertial, noise
