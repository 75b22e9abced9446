"""The time column: where each row belongs on an even time base, and what was wrong with it.

Cheap loggers sample evenly but stamp unevenly: the stamp is taken when the loop gets round to it.
Then the row's number tells its time better than its stamp does, once lost rows are counted in.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ridelog.condition.stretches import IndexArray
from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockSettings:
    """Limits of the clock repair.

    `even_ratio`: stamps this close to a straight line, in intervals, need no repair at all.
    `jump_ratio`: a step off by half an interval is a lost row, a jump or a wild stamp.
    `neighbours`: stamps on each side whose median decides which of these it is.
    `jitter_ratio`: rms scatter of the stamps, in intervals, from which `clock` is reported. The
    contract says a tenth; a log that jitters by a tenth exactly must not depend on luck.
    `uneven_jitter_ratio`, `uneven_drift_ratio`, `uneven_share`: beyond these the logger itself
    sampled unevenly and the stamps are better than the row numbers.
    """

    even_ratio: float = 0.02
    jump_ratio: float = 0.5
    neighbours: int = 8
    jitter_ratio: float = 0.12
    uneven_jitter_ratio: float = 0.4
    uneven_drift_ratio: float = 0.01
    uneven_share: float = 0.05
    wild_window: int = 31


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clock:
    """The even time base of a log.

    `rows` are the file's rows that are kept, in time order; `position` is each one's sample number
    on the base, or None where the rows are consecutive samples. `stamps_s` is set where the logger
    sampled unevenly, so that the rows must be interpolated. `jitter_ratio` is the rms scatter of
    the stamps in intervals; `backward_s` and `still_s` are the log times of stamps that ran
    backwards or stood still.
    """

    interval_s: float
    start_s: float
    sample_count: int
    rows: IndexArray | None = None
    position: IndexArray | None = None
    stamps_s: FloatArray | None = None
    jitter_ratio: float = 0.0
    rounded: bool = False
    backward_s: tuple[float, ...] = ()
    still_s: tuple[float, ...] = ()


def read_clock(time_s: FloatArray, settings: ClockSettings | None = None) -> Clock:
    """Tell when each row was sampled.

    Parameters
    ----------
    time_s : float array, shape (n,)
        Stamps as recorded [s]; NaN where the cell is empty. At least two finite stamps.

    Returns
    -------
    Clock

    Raises
    ------
    ValueError
        If fewer than two stamps advance.

    Notes
    -----
    Stamps on a straight line are taken as they are. Otherwise wild and standing stamps are set
    aside, each remaining step that is off by more than half an interval is judged by the medians
    of its neighbours (lost rows, a clock set back, or mere scatter), and one straight line of
    stamps against sample number gives the interval. Where even that line does not hold, the logger
    sampled unevenly and the stamps stand.

    References
    ----------
    Derived here.
    """
    settings = settings or ClockSettings()
    clock = _even(time_s, settings)
    return _repaired(time_s, settings) if clock is None else clock


def _even(time_s: FloatArray, settings: ClockSettings) -> Clock | None:
    count = len(time_s)
    interval = (time_s[-1] - time_s[0]) / max(count - 1, 1)
    if not interval > 0:
        return None
    off_line = time_s - (time_s[0] + interval * np.arange(count))
    if not np.max(np.abs(off_line)) < settings.even_ratio * interval:
        return None
    return Clock(interval_s=float(interval), start_s=float(time_s[0]), sample_count=count)


def _repaired(time_s: FloatArray, settings: ClockSettings) -> Clock:
    rows = _rows_in_order(time_s)
    stamps = time_s if rows is None else time_s[rows]
    steps = np.diff(stamps)
    backward = np.flatnonzero(steps < 0) + 1
    still = np.flatnonzero(steps == 0) + 1
    interval = _first_interval(stamps)
    good = np.isfinite(stamps)
    good[still] = False
    good &= ~_wild(stamps, good, interval, settings)
    row_of_good = np.flatnonzero(good)
    line = _straight_line(stamps[row_of_good], row_of_good, interval, settings)
    if _quantum(stamps) >= 0.99 * interval:  # several rows share a stamp by rounding alone
        still = still[:0]
    faults_s = (_times(stamps, backward), _times(stamps, still))
    if line.uneven:
        return _uneven(stamps, rows, line, faults_s)
    position = np.arange(len(stamps))
    position = position + _carried(line.lost_rows, row_of_good, len(stamps))
    return Clock(
        interval_s=line.interval_s,
        start_s=line.start_s,
        sample_count=int(position[-1]) + 1,
        rows=rows,
        position=position if position[-1] + 1 != len(position) else None,
        jitter_ratio=line.jitter_ratio,
        rounded=line.rounded,
        backward_s=faults_s[0] if rows is None else _times(time_s, _backward(time_s)),
        still_s=faults_s[1],
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    interval_s: float
    start_s: float
    lost_rows: IndexArray
    jitter_ratio: float
    rounded: bool
    uneven: bool


def _straight_line(
    stamps: FloatArray, count: IndexArray, interval: float, settings: ClockSettings
) -> _Line:
    """Fit stamps to sample numbers; `count` are the row numbers of the good stamps."""
    lost = np.zeros(len(stamps), dtype=np.intp)
    suspects = 0
    for _ in range(2):  # the second pass sees a better interval and fewer holes in its windows
        jump, suspects = _jumps(stamps, count + lost, interval, settings)
        moved = _clock_moved(jump)
        stamps = stamps - np.cumsum(moved) * interval
        lost = lost + np.cumsum(jump - moved)
        interval = _lag_interval(stamps, count + lost)
    number = (count + lost).astype(np.float64)
    centre = number.mean()
    off_centre = number - centre
    slope = float(np.dot(off_centre, stamps - stamps.mean()) / np.dot(off_centre, off_centre))
    start = float(stamps.mean() - slope * centre)
    excess = np.diff(stamps) / slope - np.diff(number)
    jitter = float(np.sqrt(np.mean(excess**2) / 2))
    drift = _drift(stamps - start - slope * number, slope)
    return _Line(
        interval_s=slope,
        start_s=start,
        lost_rows=lost,
        jitter_ratio=jitter,
        rounded=bool(np.max(np.abs(excess), initial=0.0) * slope <= 1.05 * _quantum(stamps)),
        uneven=jitter > settings.uneven_jitter_ratio
        or drift > settings.uneven_drift_ratio
        or suspects > settings.uneven_share * len(stamps),
    )


def _jumps(
    stamps: FloatArray, number: IndexArray, interval: float, settings: ClockSettings
) -> tuple[IndexArray, int]:
    """Whole intervals by which the clock jumps before each stamp, and how many steps looked odd."""
    phase = stamps / interval - number
    jump = np.zeros(len(stamps), dtype=np.intp)
    odd = np.flatnonzero(np.abs(np.diff(phase)) > settings.jump_ratio) + 1
    if len(odd) == 0:
        return jump, 0
    reach = np.arange(settings.neighbours)
    after = np.minimum(odd[:, None] + reach, len(phase) - 1)
    before = np.maximum(odd[:, None] - 1 - reach, 0)
    # medians see through neighbouring wild stamps; the nearest jump alone must not be averaged away
    change = np.median(phase[after], axis=1) - np.median(phase[before], axis=1)
    step = np.diff(phase)[odd - 1]
    agrees = np.sign(step) == np.sign(change)
    jump[odd[agrees]] = np.rint(change[agrees]).astype(np.intp)
    crowded = np.flatnonzero(np.diff(odd) < settings.neighbours)
    for index in crowded:  # windows overlap: believe the larger step, the next pass finds the rest
        first, second = odd[index], odd[index + 1]
        first_is_smaller = abs(step[index]) < abs(step[index + 1])
        jump[first if first_is_smaller else second] = 0
    return jump, len(odd) - int(np.count_nonzero(jump))


def _clock_moved(jump: IndexArray) -> IndexArray:
    """Return the jumps that are the clock's own: set back, or away and back by the same amount."""
    moved = np.minimum(jump, 0)
    where = np.flatnonzero(jump)
    for first, second in pairwise(where):
        if jump[first] * jump[second] < 0 and abs(jump[first] + jump[second]) <= 1:
            moved[first], moved[second] = jump[first], jump[second]
    return moved


def _first_interval(stamps: FloatArray) -> float:
    finite = stamps[np.isfinite(stamps)]
    steps = np.diff(finite)
    if not np.any(steps > 0):
        raise ValueError("the time column does not advance")
    lag = max(1, min(64, len(finite) // 4))
    interval = float(np.median(finite[lag:] - finite[:-lag])) / lag
    if interval <= 0:
        return float(np.median(steps[steps > 0]))
    plausible = steps[(steps > 0.5 * interval) & (steps < 1.5 * interval)]
    return float(plausible.mean()) if len(plausible) else interval


def _lag_interval(stamps: FloatArray, number: IndexArray) -> float:
    lag = max(1, min(256, len(stamps) // 4))
    return float(np.median((stamps[lag:] - stamps[:-lag]) / (number[lag:] - number[:-lag])))


def _wild(
    stamps: FloatArray, good: BoolArray, interval: float, settings: ClockSettings
) -> BoolArray:
    """Stamps that leave their neighbours' line and come back."""
    from scipy.ndimage import median_filter

    wild = np.zeros(len(stamps), dtype=bool)
    rows = np.flatnonzero(good)
    phase = stamps[rows] / interval - rows
    level = median_filter(phase, size=settings.wild_window, mode="nearest")
    wild[rows] = np.abs(phase - level) > 1.0
    return wild


def _drift(off_line_s: FloatArray, interval: float) -> float:
    """Largest slope of the stamps' slow wandering off the straight line [s/s]."""
    block = 500
    if len(off_line_s) < 2 * block:
        return 0.0
    whole = len(off_line_s) // block * block
    means = off_line_s[:whole].reshape(-1, block).mean(axis=1)
    return float(np.max(np.abs(np.diff(means))) / (block * interval))


def _quantum(stamps: FloatArray) -> float:
    """Step to which the stamps are rounded [s]: 1 s, 0.1 s ... 1 us; 0 if finer."""
    some = stamps[:: max(1, len(stamps) // 2000)]
    for power in range(7):
        scaled = some * 10.0**power
        if np.max(np.abs(scaled - np.rint(scaled))) < 1e-3:
            return float(10.0**-power)
    return 0.0


def _rows_in_order(time_s: FloatArray) -> IndexArray | None:
    """Row order if the rows only need sorting: blocks written out of turn, rows written twice."""
    if not np.all(np.isfinite(time_s)) or not np.any(np.diff(time_s) < 0):
        return None
    order = np.argsort(time_s, kind="stable")
    steps = np.diff(time_s[order])
    typical = float(np.median(steps))
    moved_blocks = np.count_nonzero(np.abs(np.diff(order)) > 1)
    even = np.all(np.abs(steps - typical) < 0.5 * typical)
    return order if even and typical > 0 and moved_blocks < 0.01 * len(order) + 3 else None


def _backward(time_s: FloatArray) -> IndexArray:
    return np.flatnonzero(np.diff(time_s) < 0) + 1


def _times(stamps: FloatArray, rows: IndexArray) -> tuple[float, ...]:
    return tuple(float(value) for value in stamps[rows])


def _carried(lost: IndexArray, rows: IndexArray, count: int) -> IndexArray:
    """Lost-row counts of the good stamps, carried forward to the rows between them."""
    where = np.searchsorted(rows, np.arange(count), side="right") - 1
    return lost[np.maximum(where, 0)]


def _uneven(
    stamps: FloatArray,
    rows: IndexArray | None,
    line: _Line,
    faults_s: tuple[tuple[float, ...], tuple[float, ...]],
) -> Clock:
    order = np.arange(len(stamps)) if rows is None else rows
    record = np.fmax.accumulate(np.where(np.isfinite(stamps), stamps, -np.inf))
    advancing = np.isfinite(stamps) & (stamps >= record)
    advancing[1:] &= record[1:] > record[:-1]
    kept = stamps[advancing]
    interval = float(np.median(np.diff(kept)))
    return Clock(
        interval_s=interval,
        start_s=float(kept[0]),
        sample_count=int((kept[-1] - kept[0]) / interval) + 1,
        rows=order[advancing],
        stamps_s=kept,
        jitter_ratio=line.jitter_ratio,
        backward_s=faults_s[0],
        still_s=faults_s[1],
    )
