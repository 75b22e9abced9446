"""Put rows on an even time base: place them, fill what is missing, interpolate what is uneven."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.condition.clock import Clock
from ridelog.condition.filters import low_pass
from ridelog.condition.stretches import IndexArray, mask_of, runs_of
from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingSettings:
    """What counts as missing.

    Up to `bridged_samples` of a channel's own samples are interpolated and stay valid: at 500 Hz
    that is 8 ms, well inside the shortest motion of a wheel. `slow_share` is the share of filled
    cells below which a channel is taken as one that is logged at a lower rate than the rest.
    """

    bridged_samples: int = 4
    bridged_s: float = 0.1
    slow_share: float = 0.6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """One channel on the even base; `missing` is True where no result may rest on it."""

    values: FloatArray
    missing: BoolArray | None


def place(values: FloatArray, clock: Clock, settings: MissingSettings | None = None) -> Placed:
    """Put one channel of a log on the even time base.

    Parameters
    ----------
    values : float array, shape (rows of the file,)
        Readings, NaN where the cell is empty.
    clock : Clock
        Where each row belongs.

    Returns
    -------
    Placed
        Samples, shape (clock.sample_count,), and where they are a mere filler. A channel that is
        already even and complete is returned as it came, not copied.

    Notes
    -----
    Holes are filled with straight lines. Channels logged at a lower rate are interpolated by a
    cubic spline; their holes count in their own samples. Uneven channels are interpolated to a
    finer even base and low-passed before it is thinned, so that nothing folds back.
    """
    settings = settings or MissingSettings()
    if clock.rows is not None:
        values = values[clock.rows]
    if clock.stamps_s is not None:
        return _from_uneven(values, clock, settings)
    if clock.position is not None:
        on_base = np.full(clock.sample_count, np.nan)
        on_base[clock.position] = values
        values = on_base
    empty = np.isnan(values)
    if not empty.any():
        return Placed(values=values, missing=None)
    return _filled(values, empty, 1.0 / clock.interval_s, settings)


def _filled(
    values: FloatArray, empty: BoolArray, rate_hz: float, settings: MissingSettings
) -> Placed:
    known = np.flatnonzero(~empty)
    if len(known) < 2:
        filler = float(values[known[0]]) if len(known) else 0.0
        return Placed(values=np.full(len(values), filler), missing=np.ones(len(values), bool))
    own_step = float(np.median(np.diff(known)))
    every = np.arange(len(values))
    if own_step > 1 and len(known) < settings.slow_share * len(values):
        filled = _spline(known, values[known], every)
    else:
        filled = values.copy()
        filled[empty] = np.interp(every[empty], known, values[known])
    starts, ends = runs_of(empty)
    longest = min(settings.bridged_samples * own_step, settings.bridged_s * rate_hz)
    longest = max(longest, 1.5 * own_step)
    long = ends - starts > longest
    return Placed(values=filled, missing=mask_of(starts[long], ends[long], len(values)))


def _from_uneven(values: FloatArray, clock: Clock, settings: MissingSettings) -> Placed:
    stamps = clock.stamps_s
    if stamps is None:
        raise ValueError("the clock is even")
    known = np.isfinite(values)
    base = clock.start_s + clock.interval_s * np.arange(clock.sample_count)
    if np.count_nonzero(known) < 2:
        return Placed(values=np.zeros(len(base)), missing=np.ones(len(base), bool))
    stamps, values = stamps[known], values[known]
    finer = int(np.clip(np.ceil(clock.interval_s / np.quantile(np.diff(stamps), 0.1)), 1, 8))
    fine_rate = finer / clock.interval_s
    fine = clock.start_s + np.arange(clock.sample_count * finer) / fine_rate
    resampled = np.interp(fine, stamps, values)
    if finer > 1:
        resampled = low_pass(resampled, fine_rate, 0.45 / clock.interval_s)[::finer]
    hole = np.flatnonzero(np.diff(stamps) > max(settings.bridged_s, 2.5 * clock.interval_s))
    starts = np.searchsorted(base, stamps[hole], side="right")
    ends = np.searchsorted(base, stamps[hole + 1], side="left")
    return Placed(values=resampled, missing=mask_of(starts, ends, len(base)))


def _spline(known: IndexArray, values: FloatArray, every: IndexArray) -> FloatArray:
    from scipy.interpolate import CubicSpline

    inside = np.clip(every, known[0], known[-1])
    return np.asarray(CubicSpline(known, values)(inside), dtype=np.float64)
