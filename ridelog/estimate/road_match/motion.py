"""Damper motion of a drive and the forces it may cause, per axle and per mode of the body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.estimate.balance.basis import force_columns
from ridelog.estimate.balance.transform import ComplexArray, end_taper, smoothed_power
from ridelog.estimate.road_match.settings import BandSettings, RoadMatchSettings
from ridelog.recording import AXLES, TRAVEL_CHANNELS, BoolArray, FloatArray, Recording

_STOP_MARGIN_M = 0.001


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AxleMotion:
    """Spectra of travel and of unit force curves, and where they may be trusted.

    `columns` (axle, mode, 1 + curves, f): travel [m] and curves, mode 0 the mean of left and right,
    mode 1 half their difference. `equivalent` (axle, curves) is the slope of the straight line
    nearest to each curve over the drive. `unusable` (n at the low rate) marks gaps and stops.
    `soft_cut` (f) limits the band; `to_low_rate` scales an inverse transform of `low_count`.
    """

    frequency_hz: FloatArray
    columns: ComplexArray
    equivalent: FloatArray
    unusable: BoolArray
    soft_cut: FloatArray
    low_count: int
    to_low_rate: float
    rate_hz: float

    @property
    def curve_count(self) -> int:
        """Force curves of one axle."""
        return int(self.equivalent.shape[1])

    def at_low_rate(self, spectra: ComplexArray) -> FloatArray:
        """Signals of spectra (..., f) at the low rate, shape (..., n)."""
        padded = np.zeros((*spectra.shape[:-1], self.low_count // 2 + 1), np.complex128)
        padded[..., : spectra.shape[-1]] = spectra
        signals = np.fft.irfft(padded, self.low_count, axis=-1) * self.to_low_rate
        return np.asarray(signals[..., : len(self.unusable)])


def axle_motion(recording: Recording, car: Car, settings: RoadMatchSettings) -> AxleMotion:
    """Differentiate four travels and evaluate every force curve on them.

    Parameters
    ----------
    recording : Recording
        Uses the four ``travel_*`` channels.
    car : Car
        Gaps to the stops.
    settings : RoadMatchSettings
        Band and curves.

    Notes
    -----
    Damper speed comes from travel by a Wiener gain and a low pass; every curve is the mean over
    the speed's remaining noise, so that a noisy speed does not make friction look small.
    """
    band = settings.band
    travel = recording.stack(TRAVEL_CHANNELS)
    travel = travel - np.median(travel, axis=1, keepdims=True)
    count, rate = recording.sample_count, recording.sample_rate_hz
    low_count = _low_count(count, rate, band)
    padded = round(low_count * rate / band.rate_hz)
    window = end_taper(count, rate, band.taper_s)
    spectra = np.fft.rfft(travel * window, padded, axis=1)
    frequency_hz = np.asarray(np.fft.rfftfreq(padded, 1 / rate), dtype=float)
    used = int(band.cut_to_hz / frequency_hz[1]) + 1
    speed, speed_noise = _damper_speed(spectra, frequency_hz, window, count, band)
    omega = 2 * np.pi * frequency_hz[:used]
    undo = np.exp(-0.5j * omega / rate) / np.sinc(0.5 * omega / rate / np.pi)
    corners = np.empty((4, 1 + settings.basis.column_count, used), np.complex128)
    slopes = np.empty((4, settings.basis.column_count))
    corners[:, 0] = spectra[:, :used]
    for corner in range(4):
        noise = float(speed_noise[corner])
        curves = force_columns(speed[corner], settings.basis, speed_noise_m_per_s=noise)
        slopes[corner] = curves @ speed[corner] / np.sum(speed[corner] ** 2)
        corners[corner, 1:] = np.fft.rfft(curves * window, padded, axis=1)[:, :used] * undo
    left, right = corners[0::2], corners[1::2]
    return AxleMotion(
        frequency_hz=frequency_hz[:used],
        columns=np.stack([(left + right) / 2, (left - right) / 2], axis=1),
        equivalent=(slopes[0::2] + slopes[1::2]) / 2,
        unusable=_unusable(travel, recording, car, band),
        soft_cut=_soft_cut(frequency_hz[:used], band),
        low_count=low_count,
        to_low_rate=low_count / padded,
        rate_hz=band.rate_hz,
    )


def _low_count(count: int, rate_hz: float, band: BandSettings) -> int:
    """Padded length at the low rate that is a whole length at the log's rate, nearly enough."""
    from scipy.fft import next_fast_len

    wanted = int((count / rate_hz + 3.0) * band.rate_hz)
    return 2 * int(next_fast_len(wanted // 2 + 1, real=True))


def _damper_speed(
    spectra: ComplexArray,
    frequency_hz: FloatArray,
    window: FloatArray,
    count: int,
    band: BandSettings,
) -> tuple[FloatArray, FloatArray]:
    """Damper speed (4, n) and the standard deviation of its error (4,), both in m/s."""
    padded = 2 * (len(frequency_hz) - 1)
    low, high = band.noise_band_hz
    top = 0.96 * frequency_hz[-1]
    if high > top:
        low, high = 0.6 * top, top
    quiet = (frequency_hz > low) & (frequency_hz < high)
    noise = np.median(np.abs(spectra[:, quiet]) ** 2, axis=1)[:, None] / np.log(2)
    power = smoothed_power(np.abs(spectra) ** 2, max(1, int(0.5 / frequency_hz[1])))
    signal = np.maximum(power - noise, 0.0)
    limit = 1 / (1 + (frequency_hz / band.speed_limit_hz) ** 12)
    gain = signal / (signal + noise) * limit
    omega = 2 * np.pi * frequency_hz
    speed = np.fft.irfft(1j * omega * spectra * gain, padded, axis=1)[:, :count]
    error = np.sum(gain * limit * noise * omega**2, axis=1)
    return speed, np.sqrt(error * 2 / (padded * np.sum(window**2)))


def _soft_cut(frequency_hz: FloatArray, band: BandSettings) -> FloatArray:
    slow, fast = band.slow_hz
    rise = np.clip((frequency_hz - slow) / (fast - slow), 0, 1)
    fall = np.clip((frequency_hz - band.cut_from_hz) / (band.cut_to_hz - band.cut_from_hz), 0, 1)
    return np.asarray((0.5 - 0.5 * np.cos(np.pi * rise)) * (0.5 + 0.5 * np.cos(np.pi * fall)))


def _unusable(travel: FloatArray, recording: Recording, car: Car, band: BandSettings) -> BoolArray:
    bad = ~recording.valid
    for number, name in enumerate(AXLES):
        bad = bad | _on_stops(travel[2 * number : 2 * number + 2], car.axle(name))
    low = int(recording.duration_s * band.rate_hz)
    starts = (np.arange(low) * recording.sample_rate_hz / band.rate_hz).astype(int)
    return np.asarray(np.logical_or.reduceat(bad, starts))


def _on_stops(travel: FloatArray, axle: Axle) -> BoolArray:
    bad = np.zeros(travel.shape[1], bool)
    if axle.bump_gap_m is not None:
        bad |= (travel > axle.bump_gap_m - _STOP_MARGIN_M).any(axis=0)
    if axle.droop_gap_m is not None:
        bad |= (travel < _STOP_MARGIN_M - axle.droop_gap_m).any(axis=0)
    return bad
