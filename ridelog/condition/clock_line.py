"""The straight line of stamps against sample numbers, lost rows and clock jumps counted in."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ridelog.condition.stretches import IndexArray
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockSettings:
    """Limits of the clock repair.

    `even_ratio`: stamps this close to a straight line, in intervals, need no repair at all.
    `jump_ratio`: a step off by half an interval is a lost row, a jump or a wild stamp.
    `neighbours_per_scatter`: stamps on each side whose median decides which of these it is, per
    squared scatter of a stamp in intervals, so that the medians are good to a tenth of an interval
    (`fewest_neighbours` from a scatter of `calm_ratio` on, below it the step alone decides).
    `jitter_ratio`: rms scatter of the stamps, in intervals, from which `clock` is reported. The
    contract says a tenth; a log that jitters by a tenth exactly must not depend on luck.
    `wild_window`: stamps among whose median a wild one is told. `uneven_jitter_ratio`,
    `uneven_drift_ratio`: beyond these the logger itself sampled unevenly and the stamps are better
    than the row numbers; so too where scattered steps do not make up for each other. Stamps taken
    late on an even beat do (neighbouring steps correlate by -0.5); uneven steps do not (0), so that
    `uneven_correlation` lies between. A clock is set back by stamps that fall; where they still
    rise, the logger wrote a row more than its beat asks for (telephones do). From
    `uneven_extra_ratio` such rows on, and at least `uneven_extra_rows`, the stamps stand: counted
    as a clock set back, every one of them would make the log an interval longer.
    """

    even_ratio: float = 0.02
    jump_ratio: float = 0.5
    neighbours_per_scatter: float = 320.0
    fewest_neighbours: int = 8
    calm_ratio: float = 0.08
    jitter_ratio: float = 0.12
    uneven_jitter_ratio: float = 0.6
    uneven_drift_ratio: float = 0.01
    uneven_correlation: float = -0.25
    uneven_extra_ratio: float = 0.001
    uneven_extra_rows: int = 3
    wild_window: int = 31


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StampLine:
    """The line, the rows lost before each good stamp, and how the stamps scatter about it."""

    interval_s: float
    start_s: float
    lost_rows: IndexArray
    jitter_ratio: float
    rounded: bool
    uneven: bool


def straight_line(
    stamps: FloatArray, count: IndexArray, interval: float, settings: ClockSettings
) -> StampLine:
    """Fit stamps to sample numbers; `count` are the row numbers of the good stamps."""
    lost = np.zeros(len(stamps), dtype=np.intp)
    extra = 0
    for _ in range(2):  # the second pass sees a better interval and fewer holes in its windows
        jump = _jumps(stamps, count + lost, interval, settings)
        moved = _clock_moved(jump)
        extra -= int(moved[1:][np.diff(stamps) > 0].sum())
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
    rounded = bool(np.max(np.abs(excess), initial=0.0) * slope <= 1.05 * quantum(stamps))
    scattered = jitter > settings.uneven_jitter_ratio or (
        jitter > settings.jitter_ratio and _correlation(excess) > settings.uneven_correlation
    )
    return StampLine(
        interval_s=slope,
        start_s=start,
        lost_rows=lost,
        jitter_ratio=jitter,
        rounded=rounded,
        uneven=drift > settings.uneven_drift_ratio
        or (scattered and not rounded)
        or extra >= max(settings.uneven_extra_rows, settings.uneven_extra_ratio * len(stamps)),
    )


def _correlation(steps: FloatArray) -> float:
    """Correlation of neighbouring steps' excess over the mean."""
    power = float(np.dot(steps, steps))
    return float(np.dot(steps[1:], steps[:-1])) / power if power > 0 else 0.0


def _jumps(
    stamps: FloatArray, number: IndexArray, interval: float, settings: ClockSettings
) -> IndexArray:
    """Whole intervals by which the clock jumps before each stamp."""
    phase = stamps / interval - number
    steps = np.diff(phase)
    jump = np.zeros(len(stamps), dtype=np.intp)
    odd = np.flatnonzero(np.abs(steps) > settings.jump_ratio) + 1
    if len(odd) == 0:
        return jump
    reach = np.arange(_neighbours(steps, settings))
    after = np.minimum(odd[:, None] + reach, len(phase) - 1)
    before = np.maximum(odd[:, None] - 1 - reach, 0)
    # medians see through scatter and wild stamps
    change = np.median(phase[after], axis=1) - np.median(phase[before], axis=1)
    whole = np.rint(change).astype(np.intp)
    counts = (whole != 0) & (np.sign(whole) == np.sign(steps[odd - 1]))
    odd, whole = odd[counts], whole[counts]
    jump[odd] = whole
    for first, second in pairwise(odd):
        if second - first < len(reach):  # one jump in both windows: the larger step is where it is
            smaller = first if abs(steps[first - 1]) < abs(steps[second - 1]) else second
            jump[smaller] = 0
    return jump


def _neighbours(steps: FloatArray, settings: ClockSettings) -> int:
    scatter = 1.4826 * float(np.median(np.abs(steps - np.median(steps)))) / np.sqrt(2)
    if scatter < settings.calm_ratio:
        return 1
    wanted = int(np.ceil(settings.neighbours_per_scatter * scatter**2))
    return int(np.clip(wanted, settings.fewest_neighbours, 100))


def _clock_moved(jump: IndexArray) -> IndexArray:
    """Return the jumps that are the clock's own: set back, or away and back by the same amount."""
    moved = np.minimum(jump, 0)
    where = np.flatnonzero(jump)
    for first, second in pairwise(where):
        if jump[first] * jump[second] < 0 and abs(jump[first] + jump[second]) <= 1:
            moved[first], moved[second] = jump[first], jump[second]
    return moved


def _lag_interval(stamps: FloatArray, number: IndexArray) -> float:
    lag = max(1, min(256, len(stamps) // 4))
    return float(np.median((stamps[lag:] - stamps[:-lag]) / (number[lag:] - number[:-lag])))


def _drift(off_line_s: FloatArray, interval: float) -> float:
    """Largest slope of the stamps' slow wandering off the straight line [s/s]."""
    block = 500
    if len(off_line_s) < 2 * block:
        return 0.0
    whole = len(off_line_s) // block * block
    means = off_line_s[:whole].reshape(-1, block).mean(axis=1)
    return float(np.max(np.abs(np.diff(means))) / (block * interval))


def quantum(stamps: FloatArray) -> float:
    """Step to which the stamps are rounded [s]: 1 s, 0.1 s ... 1 us; 0 if finer."""
    for power in range(7):
        scaled = stamps * 10.0**power
        if np.max(np.abs(scaled - np.rint(scaled))) < 1e-3:
            return float(10.0**-power)
    return 0.0
