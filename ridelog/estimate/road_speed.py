"""Speed of the car from the time the road takes from the front to the rear wheels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.errors import SignalError
from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadSpeedSettings:
    """Settings of `speed_from_road`.

    window_s: holds many times the longest delay. lowest_speed_m_per_s, highest_speed_m_per_s:
    walking pace to a fast road. least_coherence: correlation of front and rear road below which a
    window is not believed; chance peaks of unrelated roads stay below some 0.4. least_share: part
    of the windows that must be believed. outlier_ratio: a window whose speed is off its neighbours'
    by more is not believed. highest_hz: above it the wheels' own hop hides the road.
    """

    window_s: float = 4.0
    lowest_speed_m_per_s: float = 3.0
    highest_speed_m_per_s: float = 60.0
    least_coherence: float = 0.6
    least_share: float = 0.5
    outlier_ratio: float = 0.15
    highest_hz: float = 6.0
    neighbours: int = 5


def speed_from_road(
    front_road: FloatArray,
    rear_road: FloatArray,
    wheelbase: float,
    sample_rate_hz: float,
    *,
    valid: BoolArray | None = None,
    settings: RoadSpeedSettings | None = None,
) -> FloatArray:
    """Speed of a car whose front and rear wheels met the same road.

    Parameters
    ----------
    front_road, rear_road : FloatArray
        Road height under the wheels of each axle [m], shape (2, n), left and right.
    wheelbase : float
        Wheelbase [m].
    sample_rate_hz : float
        Sample rate [Hz].
    valid : BoolArray, optional
        False where samples are missing, shape (n,).
    settings : RoadSpeedSettings, optional
        Settings.

    Returns
    -------
    FloatArray
        Speed [m/s], shape (n,); NaN where no window near is believed.

    Raises
    ------
    SignalError
        If front and rear road are alike in too few windows.

    Notes
    -----
    In each window the lag of the highest correlation between the steps of front and rear road,
    both tracks together, is one wheelbase of driving. Windows that disagree with their neighbours
    are left out. Good to about 2 % at steady speed; nothing at standstill.

    References
    ----------
    Derived here. Delay by correlation: G. C. Carter (ed.), Coherence and Time Delay Estimation
    (1993).
    """
    s = settings or RoadSpeedSettings()
    count = round(s.window_s * sample_rate_hz)
    starts = np.arange(0, front_road.shape[1] - count + 1, count // 2)
    usable = np.ones(front_road.shape[1], dtype=bool) if valid is None else valid
    steps = (np.diff(front_road, append=0.0), np.diff(rear_road, append=0.0))
    lags = (
        int(wheelbase / s.highest_speed_m_per_s * sample_rate_hz),
        int(np.ceil(wheelbase / s.lowest_speed_m_per_s * sample_rate_hz)),
    )
    speeds = np.full(len(starts), np.nan)
    for number, start in enumerate(starts):
        window = slice(start, start + count)
        if usable[window].all():
            delay, coherence = _delay(
                steps[0][:, window], steps[1][:, window], lags, s.highest_hz / sample_rate_hz
            )
            if coherence >= s.least_coherence:
                speeds[number] = wheelbase * sample_rate_hz / delay
    speeds = _without_outliers(speeds, s)
    believed = np.isfinite(speeds)
    if not len(starts) or believed.sum() < s.least_share * len(starts):
        raise SignalError(
            "road: the log has no speed, and front and rear wheels do not show the same road "
            "clearly enough to take the speed from the time between them; add a speed column"
        )
    middles = starts + count / 2
    speed = np.interp(np.arange(front_road.shape[1]), middles[believed], speeds[believed])
    nearest = np.interp(np.arange(len(speed)), middles, np.arange(len(starts))).round().astype(int)
    return np.where(believed[nearest], speed, np.nan)


def _delay(
    front: FloatArray, rear: FloatArray, lags: tuple[int, int], highest: float
) -> tuple[float, float]:
    """Lag [samples] of the rear behind the front between two limits, and correlation there."""
    from scipy import fft

    shortest, longest = max(lags[0], 2), min(lags[1], front.shape[1] // 2)
    length = fft.next_fast_len(2 * front.shape[1], real=True)
    gain = np.exp(-((fft.rfftfreq(length) / highest) ** 2))
    ahead, behind = fft.rfft(front, length) * gain, fft.rfft(rear, length) * gain
    correlation = fft.irfft((behind * np.conj(ahead)).sum(axis=0), length)
    powers = [fft.irfft((np.abs(x) ** 2).sum(axis=0), length)[0] for x in (ahead, behind)]
    energy = float(np.sqrt(powers[0] * powers[1]))
    overlap = 1 - np.arange(longest + 2) / front.shape[1]
    scaled = correlation[: longest + 2] / max(energy, 1e-30) / overlap
    top = shortest + int(np.argmax(scaled[shortest : longest + 1]))
    left, middle, right = scaled[top - 1 : top + 2]
    bend = left - 2 * middle + right
    shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
    return top + float(np.clip(shift, -0.5, 0.5)), float(middle)


def _without_outliers(speeds: FloatArray, s: RoadSpeedSettings) -> FloatArray:
    """Speeds with those set to NaN that stand apart from the median of their neighbours."""
    half = s.neighbours // 2
    padded = np.pad(speeds, half, constant_values=np.nan)
    kept = speeds.copy()
    for number in range(len(speeds)):
        near = padded[number : number + s.neighbours]
        near = near[np.isfinite(near)]
        if len(near) < 2 or abs(speeds[number] / np.median(near) - 1) > s.outlier_ratio:
            kept[number] = np.nan
    return kept
