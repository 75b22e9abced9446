"""Wheel-hop humps in the spectrum of a body accelerometer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class HopSettings:
    """Where wheel hop lies and how far a hump must rise above its surroundings to be named.

    Common practice, no source: wheel hop of road cars lies within 8 to 17 Hz, and a car has two
    axles. `beyond_chance` is in standard deviations of a peak over a valley.
    """

    band_hz: tuple[float, float] = (8.0, 17.5)
    visible: float = 1.25
    beyond_chance: float = 3.5  # one plain spectrum in a hundred; at 3.0 one in twelve
    most: int = 2


def hop_peaks_hz(
    frequency_hz: FloatArray,
    density: FloatArray,
    settings: HopSettings,
    *,
    readings_per_bin: float = np.inf,
) -> tuple[float, ...]:
    """Peaks in the wheel-hop band that rise most, and clearly, above their surroundings.

    Parameters
    ----------
    frequency_hz : FloatArray
        [Hz], shape (f,).
    density : FloatArray
        Acceleration spectrum [(m/s2)2/Hz], shape (f,).
    settings : HopSettings
        Band and how far a peak must rise.
    readings_per_bin : float
        Independent readings behind each bin of that band [1]: few of them make humps by chance.

    References
    ----------
    Peak prominence as in topographic usage; limits: common practice, no source.
    """
    step = frequency_hz[-1] - frequency_hz[-2]
    even = np.arange(frequency_hz[0], frequency_hz[-1], step)
    width = max(round(1.0 / step), 1)
    kernel = np.hanning(width + 2)[1:-1]
    smooth = np.exp(
        np.convolve(np.log(np.interp(even, frequency_hz, density)), kernel / kernel.sum(), "same")
    )
    scatter = np.sqrt(2 * np.sum((kernel / kernel.sum()) ** 2) / readings_per_bin)
    visible = max(settings.visible, float(np.exp(settings.beyond_chance * scatter)))
    low, high = settings.band_hz
    inside = np.flatnonzero((even >= low) & (even <= min(high, even[-1] - 1.0)))
    peaks: list[tuple[float, float]] = []
    for number in inside:
        here = smooth[number]
        if here < max(smooth[number - 1], smooth[number + 1]):
            continue
        left, right = smooth[max(number - 24, 0) : number], smooth[number + 1 : number + 25]
        rise = here / max(_valley(left[::-1], here), _valley(right, here))
        if rise > visible:
            peaks.append((float(rise), float(even[number])))
    return tuple(sorted(peak for _, peak in sorted(peaks, reverse=True)[: settings.most]))


def _valley(walk: FloatArray, here: float) -> float:
    """Lowest point on the way to higher ground."""
    higher = np.flatnonzero(walk > here)
    reach = walk[: higher[0]] if len(higher) else walk
    return float(reach.min()) if len(reach) else here
