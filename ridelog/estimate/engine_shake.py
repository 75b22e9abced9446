"""The frequency at which the engine shakes the body, moment by moment."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridelog.recording import BoolArray, FloatArray

# Firing frequencies of usual engines at usual speeds; below, the suspension itself moves.
_SHAKE_HZ = (20.0, 60.0)
_HIGH_PASS_HZ = 18.0
# Below, the shake cannot be told from its mirror image.
_SLOWEST_HZ = 125.0
_PADDING = 8


def shake_frequencies(
    force_n: FloatArray, hits: BoolArray, centres: Sequence[int], sample_rate_hz: float
) -> list[float | None]:
    """Strongest frequency of a force in the two seconds around some moments, hits left out.

    Parameters
    ----------
    force_n : ndarray
        Force on the body [N], shape (n,).
    hits : ndarray of bool
        Where something else shakes the body, shape (n,).
    centres : sequence of int
        The moments, as samples.
    sample_rate_hz : float
        Sample rate [Hz].

    Returns
    -------
    list
        Frequency [Hz] at each moment; None where the log is too slow to tell.

    References
    ----------
    Periodogram with a Hann window; any text on spectral analysis.
    """
    from scipy.fft import rfft
    from scipy.signal import butter, sosfiltfilt

    if sample_rate_hz < _SLOWEST_HZ:
        return [None] * len(centres)
    filters = butter(4, _HIGH_PASS_HZ, "highpass", fs=sample_rate_hz, output="sos")
    half = round(sample_rate_hz)
    quiet = np.pad(sosfiltfilt(filters, force_n) * ~hits, half)
    window, size = np.hanning(2 * half), _PADDING * 2 * half
    low, high = (int(each * size / sample_rate_hz) for each in _SHAKE_HZ)
    found: list[float | None] = []
    for centre in centres:
        power = np.abs(rfft(quiet[centre : centre + 2 * half] * window, size))[low:high]
        found.append((low + int(np.argmax(power))) * sample_rate_hz / size)
    return found
