"""Differentiate and integrate in the frequency domain, with the bandwidth stated."""

from __future__ import annotations

import numpy as np
from scipy import fft

from ridelog.recording import FloatArray


def differentiate(
    values: FloatArray, sample_rate_hz: float, high_hz: float, times: int = 1
) -> FloatArray:
    """Return the rate of change of a signal, once or twice, up to a stated frequency.

    Parameters
    ----------
    values : float array, shape (..., n)
        One or more signals, samples last.
    sample_rate_hz : float
        Samples per second [Hz].
    high_hz : float
        Above it the result falls off [Hz]: differentiation blows up noise with frequency.
    times : int
        How often.

    Returns
    -------
    float array, shape (..., n)
        Per s for each differentiation. The first and last 1 / `high_hz` seconds are less exact.

    References
    ----------
    Derived here: a derivative multiplies the transform by i omega; gain 1 / (1 + (f / high)^8).
    """

    def response(frequency_hz: FloatArray) -> FloatArray:
        return 1.0 / (1.0 + (frequency_hz / high_hz) ** 8)

    return _applied(values, sample_rate_hz, times, response(_frequency(values, sample_rate_hz)))


def integrate(
    values: FloatArray, sample_rate_hz: float, low_hz: float, times: int = 1
) -> FloatArray:
    """Return the integral of a signal, once or twice, down to a stated frequency.

    Parameters
    ----------
    values : float array, shape (..., n)
        One or more signals, samples last; their mean is taken off.
    sample_rate_hz : float
        Samples per second [Hz].
    low_hz : float
        Below it the result falls off [Hz]: integration blows up drift.
    times : int
        How often.

    Returns
    -------
    float array, shape (..., n)
        Times s for each integration, without mean. The first and last 1 / `low_hz` seconds are
        less exact.

    References
    ----------
    Derived here: an integral divides the transform by i omega; gain 1 / (1 + (low / f)^4),
    gentle so that the ends do not ring far into the log.
    """
    frequency_hz = _frequency(values, sample_rate_hz)
    gain = np.zeros_like(frequency_hz)
    gain[1:] = 1.0 / (1.0 + (low_hz / frequency_hz[1:]) ** 4)
    return _applied(values, sample_rate_hz, -times, gain)


def _margin(count: int) -> int:
    return count - 1


def _frequency(values: FloatArray, sample_rate_hz: float) -> FloatArray:
    count = values.shape[-1]
    length = fft.next_fast_len(count + 2 * _margin(count), real=True)
    return np.asarray(fft.rfftfreq(length, 1.0 / sample_rate_hz))


def _applied(values: FloatArray, sample_rate_hz: float, power: int, gain: FloatArray) -> FloatArray:
    """Multiply the transform by (i omega)^power and a gain, the ends extended by reflection."""
    count = values.shape[-1]
    margin = _margin(count)
    level = values.mean(axis=-1, keepdims=True)
    centred = values - level
    if power > 0:  # odd reflection keeps a slope going, which a derivative needs
        head = 2 * centred[..., :1] - centred[..., margin:0:-1]
        tail = 2 * centred[..., -1:] - centred[..., -2 : -margin - 2 : -1]
    else:  # even reflection adds no drift to an integral
        head = centred[..., margin:0:-1]
        tail = centred[..., -2 : -margin - 2 : -1]
    extended = np.concatenate([head, centred, tail], axis=-1)
    frequency_hz = _frequency(values, sample_rate_hz)
    length = fft.next_fast_len(extended.shape[-1], real=True)
    omega = 2j * np.pi * np.maximum(frequency_hz, 1e-12)
    spectrum = fft.rfft(extended, length, axis=-1) * omega**power * gain
    result = fft.irfft(spectrum, length, axis=-1)
    return np.asarray(result[..., margin : margin + count], dtype=np.float64)
