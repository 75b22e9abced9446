"""The time column: where each row belongs on an even time base, and what was wrong with it.

Cheap loggers sample evenly but stamp unevenly: the stamp is taken when the loop gets round to it.
Then the row's number tells its time better than its stamp does, once lost rows are counted in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ridelog.condition.clock_line import ClockSettings, StampLine, quantum, straight_line
from ridelog.condition.stretches import IndexArray
from ridelog.errors import SignalError
from ridelog.recording import BoolArray, FloatArray


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
    SignalError
        If no two stamps advance.

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
    if quantum(stamps) >= 0.99 * interval:
        still = still[:0]  # several rows share a stamp by rounding alone
        settings = replace(settings, jump_ratio=1.2 * quantum(stamps) / interval)
    else:
        good[still] = False
        good &= ~_wild(stamps, good, interval, settings)
    row_of_good = np.flatnonzero(good)
    line = straight_line(stamps[row_of_good], row_of_good, interval, settings)
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


def _first_interval(stamps: FloatArray) -> float:
    finite = stamps[np.isfinite(stamps)]
    steps = np.diff(finite)
    if not np.any(steps > 0):
        raise SignalError("the time column does not advance: every row has the same time")
    lag = max(1, min(64, len(finite) // 4))
    interval = float(np.median(finite[lag:] - finite[:-lag])) / lag
    if interval <= 0:
        return float(np.median(steps[steps > 0]))
    plausible = steps[(steps > 0.5 * interval) & (steps < 1.5 * interval)]
    return float(plausible.mean()) if len(plausible) else interval


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
    line: StampLine,
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
