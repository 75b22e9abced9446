"""The delay from front to rear wheels as it changes over a drive."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ridelog.estimate.road_delay import DelaySettings, smoothest_path
from ridelog.estimate.road_match.roads import Warp, make_warp
from ridelog.estimate.road_match.settings import PathSettings
from ridelog.recording import BoolArray, FloatArray

# Readings of one window behind its mismatch, a share of signal taken as never matching, and the
# level below which a window (standing car) tells nothing.
_WINDOW_READINGS = 40.0
_NEVER_MATCHED = 1e-3
_QUIET = 0.03


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DelayPath:
    """Logarithm of the delay [s] at knots `step_s` apart."""

    log_delay: FloatArray
    step_s: float

    def shifted(self, change: float) -> DelayPath:
        """Path with every delay longer by the factor exp(`change`)."""
        return replace(self, log_delay=self.log_delay + change)

    def delay_s(self, count: int, rate_hz: float) -> FloatArray:
        """Delay at each sample [s], shape (count,)."""
        knots = np.arange(len(self.log_delay)) * self.step_s
        return np.asarray(np.exp(np.interp(np.arange(count) / rate_hz, knots, self.log_delay)))

    def warp(self, count: int, rate_hz: float) -> Warp:
        """Interpolation by this delay."""
        return make_warp(self.delay_s(count, rate_hz), rate_hz)


def band_passed(signals: FloatArray, rate_hz: float, band_hz: tuple[float, float]) -> FloatArray:
    """Signals (..., n) within a band with soft edges."""
    count = signals.shape[-1]
    frequency_hz = np.maximum(np.fft.rfftfreq(count, 1 / rate_hz), 1e-3)
    gain = 1 / (1 + (band_hz[0] / frequency_hz) ** 8) / (1 + (frequency_hz / band_hz[1]) ** 8)
    return np.asarray(np.fft.irfft(np.fft.rfft(signals, axis=-1) * gain, count, axis=-1))


def search_path(
    front: FloatArray,
    rear: FloatArray,
    usable: BoolArray,
    rate_hz: float,
    range_s: tuple[float, float],
    settings: PathSettings,
) -> DelayPath:
    """Find the delay from nothing but where it may lie.

    Parameters
    ----------
    front, rear : FloatArray
        Band-passed road velocities [m/s], shape (modes, n).
    usable : BoolArray
        Samples that count, shape (n,).
    rate_hz : float
        [Hz]
    range_s : tuple of float
        Shortest and longest delay [s].
    settings : PathSettings
        Windows and grid.
    """
    count, length = front.shape[1], int(settings.window_s * rate_hz)
    starts = np.arange(0, count - length + 1, int(settings.step_s * rate_hz))
    lags = np.arange(max(int(range_s[0] * rate_hz) - 2, 1), int(range_s[1] * rate_hz) + 4)
    misses = np.stack([_mismatch(front, rear, usable, int(lag)) for lag in lags])
    totals = ((front**2 + rear**2).sum(axis=0) * usable)[None]
    misses, totals = (_window_sums(part, starts, length) for part in (misses, totals))
    floor = _NEVER_MATCHED * np.median(totals)
    share = ((misses + floor) / (totals + floor + 1e-30)).T
    grid = np.exp(np.arange(np.log(range_s[0]), np.log(range_s[1]), settings.grid))
    fine = np.clip(_between(lags / rate_hz, share, grid), 0.01, None)
    told = totals[0] > _QUIET * np.median(totals)
    costs = _WINDOW_READINGS * np.log(fine) * told[:, None]
    prices = DelaySettings(change_scale=settings.change_scale, change_cost=settings.change_cost)
    path, _ = smoothest_path(costs, grid, starts / rate_hz, prices)
    knots = np.arange(0, count / rate_hz + settings.step_s, settings.step_s)
    middle = (starts + length / 2) / rate_hz
    return DelayPath(log_delay=np.interp(knots, middle, np.log(path)), step_s=settings.step_s)


def _mismatch(front: FloatArray, rear: FloatArray, usable: BoolArray, lag: int) -> FloatArray:
    out = np.zeros(front.shape[1])
    both = usable[lag:] & usable[:-lag]
    out[lag:] = ((rear[:, lag:] - front[:, :-lag]) ** 2).sum(axis=0) * both
    return out


def _window_sums(rows: FloatArray, starts: FloatArray, length: int) -> FloatArray:
    sums = np.concatenate([np.zeros((len(rows), 1)), np.cumsum(rows, axis=1)], axis=1)
    return np.asarray(sums[:, starts + length] - sums[:, starts])


def _between(lags_s: FloatArray, rows: FloatArray, at_s: FloatArray) -> FloatArray:
    """Interpolate rows (k, lags) by a parabola through three neighbours each, shape (k, at)."""
    step = lags_s[1] - lags_s[0]
    near = np.clip(np.rint((at_s - lags_s[0]) / step).astype(int), 1, len(lags_s) - 2)
    part = (at_s - lags_s[near]) / step
    before, here, after = rows[:, near - 1], rows[:, near], rows[:, near + 1]
    return np.asarray(
        here + part * (after - before) / 2 + part**2 * (after + before - 2 * here) / 2
    )


def follow_path(
    path: DelayPath,
    front: FloatArray,
    rear: FloatArray,
    usable: BoolArray,
    rate_hz: float,
    settings: PathSettings,
) -> DelayPath:
    """One Gauss-Newton step of every knot towards the least mismatch, bends penalized.

    Parameters
    ----------
    path : DelayPath
        Where to start.
    front, rear, usable, rate_hz, settings
        As `search_path`.
    """
    count, knots = front.shape[1], len(path.log_delay)
    delay_s = path.delay_s(count, rate_hz)
    warp = make_warp(delay_s, rate_hz)
    miss = rear - warp.apply(front)
    slope = warp.apply(_derivative(front, rate_hz)) * delay_s
    weight = usable / _local_power(miss, rear, rate_hz)
    low, high = settings.band_hz
    weight = weight * (high - low) / (rate_hz / 2)
    curvature = (slope * slope).sum(axis=0) * weight
    pull = -(slope * miss).sum(axis=0) * weight
    place = np.arange(count) / rate_hz / path.step_s
    left = np.minimum(place.astype(int), knots - 2)
    share = place - left
    bend = np.diff(np.eye(knots), 2, axis=0) / settings.bend_sd
    stiff = bend.T @ bend
    normal = stiff + 1e-3 * np.eye(knots)
    right = -stiff @ path.log_delay
    for one, first in ((left, 1 - share), (left + 1, share)):
        right = right + np.bincount(one, first * pull, knots)
        for other, second in ((left, 1 - share), (left + 1, share)):
            np.add.at(normal, (one, other), first * second * curvature)
    step = np.clip(np.linalg.solve(normal, right), -0.05, 0.05)
    return replace(path, log_delay=path.log_delay + step)


def _derivative(signals: FloatArray, rate_hz: float) -> FloatArray:
    omega = 2j * np.pi * np.fft.rfftfreq(signals.shape[-1], 1 / rate_hz)
    return np.asarray(np.fft.irfft(np.fft.rfft(signals) * omega, signals.shape[-1]))


def _local_power(miss: FloatArray, rear: FloatArray, rate_hz: float) -> FloatArray:
    """Mean square mismatch around each sample, never far below the road's own."""
    length = int(2 * rate_hz)
    kernel = np.full(length, 1 / length / len(miss))
    own = np.convolve((miss**2).sum(axis=0), kernel, "same")
    road = np.convolve((rear**2).sum(axis=0), kernel, "same")
    return np.asarray(own + 0.02 * road + 1e-12)
