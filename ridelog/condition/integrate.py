"""Differentiate and integrate in the frequency domain, with the bandwidth stated."""

from __future__ import annotations

import numpy as np
from scipy import fft

from ridelog.condition.filters import power_of
from ridelog.recording import FloatArray

# What lies beyond one end is felt less by a factor e^-2.4 per period of `high_hz`: after so many
# periods by less than a double can hold.
_FELT_PERIODS = 20.0


def differentiate(
    values: FloatArray, sample_rate_hz: float, high_hz: float, times: int = 1, every: int = 1
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
    every : int
        Keep the first of so many samples at a time [count]: cheaper, and the same where the rate
        kept is several times `high_hz`.

    Returns
    -------
    float array, shape (..., samples kept)
        Per s for each differentiation. The first and last 1 / `high_hz` seconds are less exact.

    References
    ----------
    Derived here: a derivative multiplies the transform by i omega; gain 1 / (1 + (f / high)^8).
    """
    margin = min(values.shape[-1] - 1, int(np.ceil(_FELT_PERIODS * sample_rate_hz / high_hz)))
    margin = margin // every * every
    frequency_hz = _frequency(values, sample_rate_hz, margin, every)
    gain = 1.0 / (1.0 + power_of(np.square(frequency_hz / high_hz), 4))
    return _applied(values, frequency_hz, margin, times, gain, every)


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
    margin = values.shape[-1] - 1
    frequency_hz = _frequency(values, sample_rate_hz, margin)
    gain = np.zeros_like(frequency_hz)
    gain[1:] = 1.0 / (1.0 + (low_hz / frequency_hz[1:]) ** 4)
    return _applied(values, frequency_hz, margin, -times, gain)


def _length(values: FloatArray, margin: int, every: int) -> int:
    """Length of the transform, a multiple of the samples of which one is kept."""
    wanted = values.shape[-1] + 2 * margin
    return every * int(fft.next_fast_len(-(-wanted // every), real=True))


def _frequency(
    values: FloatArray, sample_rate_hz: float, margin: int, every: int = 1
) -> FloatArray:
    """Frequencies up to half of the rate that is kept [Hz]."""
    length = _length(values, margin, every)
    return np.asarray(fft.rfftfreq(length // every, every / sample_rate_hz))


def _applied(
    values: FloatArray,
    frequency_hz: FloatArray,
    margin: int,
    power: int,
    gain: FloatArray,
    every: int = 1,
) -> FloatArray:
    """Multiply the transform by (i omega)^power and a gain, the ends extended by reflection."""
    count = values.shape[-1]
    level = values.mean(axis=-1, keepdims=True)
    length = _length(values, margin, every)
    extended = np.zeros((*values.shape[:-1], length))
    centred = extended[..., margin : margin + count]
    np.subtract(values, level, out=centred)
    head, tail = centred[..., margin:0:-1], centred[..., -2 : -margin - 2 : -1]
    if power > 0:  # odd reflection keeps a slope going, which a derivative needs
        head, tail = 2 * centred[..., :1] - head, 2 * centred[..., -1:] - tail
    # else even reflection, which adds no drift to an integral
    extended[..., :margin] = head
    extended[..., margin + count : 2 * margin + count] = tail
    omega = 2j * np.pi * np.maximum(frequency_hz, 1e-12)
    spectrum = fft.rfft(extended, length, axis=-1)[..., : len(frequency_hz)]
    spectrum *= (omega if power == 1 else omega**power) * (gain / every)
    result = fft.irfft(spectrum, length // every, axis=-1)
    first, last = margin // every, -(-(margin + count) // every)
    return np.asarray(result[..., first:last], dtype=np.float64)
