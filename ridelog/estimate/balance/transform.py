"""Whole-record Fourier transform: one padded FFT, tapered ends, exact shifts and derivatives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ridelog.recording import FloatArray

ComplexArray = npt.NDArray[np.complex128]

# Zeros behind the record, so that what a filter smears past one end does not wrap to the other.
_PADDING_S = 3.0
# Padded lengths are a multiple of this, so that records can be thinned.
_DIVISOR = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Transform:
    """A record length, its padded length and the frequencies of its spectrum."""

    sample_count: int
    padded_count: int
    sample_rate_hz: float
    frequency_hz: FloatArray

    @property
    def angular_rad_per_s(self) -> FloatArray:
        """Angular frequencies, shape (f,)."""
        return 2 * np.pi * self.frequency_hz

    def forward(self, signals: FloatArray, every: int = 1) -> ComplexArray:
        """Spectrum of signals (..., n) of which one sample in `every` is there, shape (..., f)."""
        from scipy import fft

        return np.asarray(fft.rfft(signals, self.padded_count // every, axis=-1))

    def weighted(self, signals: FloatArray, weight: FloatArray) -> ComplexArray:
        """Spectrum of signals (..., n) times a weight (n,), shape (..., f)."""
        padded = np.zeros((*signals.shape[:-1], self.padded_count))
        np.multiply(signals, weight, out=padded[..., : self.sample_count])
        return self.forward(padded)

    def inverse(self, spectra: ComplexArray) -> FloatArray:
        """Signals (..., n) of spectra (..., f)."""
        from scipy import fft

        return np.asarray(fft.irfft(spectra, self.padded_count, axis=-1)[..., : self.sample_count])

    def thinning(self, least_rate_hz: float) -> int:
        """Largest number of samples per step that divides the record and keeps a sample rate."""
        most = max(1, int(self.sample_rate_hz / least_rate_hz))
        return next(every for every in range(most, 0, -1) if self.padded_count % every == 0)

    def band(self, low_hz: float, high_hz: float) -> slice:
        """Slice of the bins from `low_hz` to `high_hz`."""
        step = self.sample_rate_hz / self.padded_count
        return slice(int(np.ceil(low_hz / step)), int(np.floor(high_hz / step)) + 1)


def make_transform(sample_count: int, sample_rate_hz: float) -> Transform:
    """Return the transform of a record.

    Parameters
    ----------
    sample_count : int
        Samples in the record.
    sample_rate_hz : float
        Sample rate [Hz].
    """
    from scipy.fft import next_fast_len

    wanted = sample_count + int(_PADDING_S * sample_rate_hz)
    padded = _DIVISOR * int(next_fast_len(-(-wanted // _DIVISOR), real=True))
    return Transform(
        sample_count=sample_count,
        padded_count=padded,
        sample_rate_hz=sample_rate_hz,
        frequency_hz=np.asarray(np.fft.rfftfreq(padded, 1 / sample_rate_hz), dtype=float),
    )


def end_taper(sample_count: int, sample_rate_hz: float, taper_s: float) -> FloatArray:
    """Window of ones with half-cosine ends of `taper_s` each, shape (n,).

    Parameters
    ----------
    sample_count : int
        Samples in the record.
    sample_rate_hz : float
        Sample rate [Hz].
    taper_s : float
        Length of either end [s].
    """
    ramp_count = min(int(taper_s * sample_rate_hz), sample_count // 2)
    window = np.ones(sample_count)
    ramp = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ramp_count) + 0.5) / ramp_count)
    window[:ramp_count] = ramp
    window[sample_count - ramp_count :] = ramp[::-1]
    return window


def smoothed_power(power: FloatArray, bins_per_step: int) -> FloatArray:
    """Mean of power spectra in steps of bins, joined by straight lines; shape as `power`.

    Parameters
    ----------
    power : ndarray
        Power, shape (rows, f).
    bins_per_step : int
        Bins averaged into one step [count].
    """
    count = power.shape[-1]
    step_count = max(1, count // bins_per_step)
    edges = np.linspace(0, count, step_count + 1).astype(int)
    centres = (edges[:-1] + edges[1:] - 1) / 2
    sums = np.add.reduceat(power, edges[:-1], axis=-1)
    means = sums / np.diff(edges)
    bins = np.arange(count)
    return np.stack([np.exp(np.interp(bins, centres, np.log(row + 1e-300))) for row in means])
