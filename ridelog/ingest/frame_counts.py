"""Account for every sample of a run: received, missed by the logger, dropped, lost on the line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.ingest.frame_runs import LoggerRun
from ridelog.recording import IntArray

_SEQUENCE_RANGE = 1 << 16
# Samples away from a status within which the sequence cannot be a whole range off.
_REACH = 0.4 * _SEQUENCE_RANGE


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleCounts:
    """Where the samples went that were due between a run's first and last word.

    `missed`: the logger took none. `dropped`: it had no room to send them. `lost`: sent and not
    received. `untold`: missing before the first or after the last status, so nobody can say why.
    """

    received: int
    missed: int = 0
    dropped: int = 0
    lost: int = 0
    untold: int = 0

    @property
    def due(self) -> int:
        """All of them."""
        return self.received + self.missed + self.dropped + self.lost + self.untold

    def __add__(self, other: SampleCounts) -> SampleCounts:
        """Count two runs together."""
        return SampleCounts(
            received=self.received + other.received,
            missed=self.missed + other.missed,
            dropped=self.dropped + other.dropped,
            lost=self.lost + other.lost,
            untold=self.untold + other.untold,
        )


def sample_numbers(run: LoggerRun) -> IntArray:
    """Number the samples since boot, from their 16-bit sequence.

    Parameters
    ----------
    run : LoggerRun
        The run.

    Returns
    -------
    ndarray of int64, shape (n,)
        Those within reach of a status are numbered from it. Others are counted on from their
        neighbour, by the rate where a gap is longer than the sequence can count.
    """
    counted = _counted_on(run)
    if not run.statuses:
        return counted
    ticks = run.status_ticks()
    order = np.argsort(ticks, kind="stable")
    ticks = ticks[order]
    due = np.array([status.due for _, status in run.statuses], dtype=np.int64)[order]
    nearest = np.searchsorted((ticks[1:] + ticks[:-1]) / 2, run.ticks)
    away = np.abs(run.ticks - ticks[nearest]) * (run.logger.rate_hz / run.logger.ticks_per_s)
    half = _SEQUENCE_RANGE // 2
    told = due[nearest] + (run.sequences - due[nearest] + half) % _SEQUENCE_RANGE - half
    reached = np.flatnonzero(away < _REACH)
    if not len(reached):
        return counted
    last_reached = np.searchsorted(reached, np.arange(len(counted)), side="right") - 1
    numbers: IntArray = counted + (told - counted)[reached[np.maximum(last_reached, 0)]]
    return numbers


def _counted_on(run: LoggerRun) -> IntArray:
    """Count from sample to sample."""
    steps = np.diff(run.sequences) % _SEQUENCE_RANGE
    expected = np.diff(run.ticks) * (run.logger.rate_hz / run.logger.ticks_per_s)
    rounds = np.maximum(np.rint((expected - steps) / _SEQUENCE_RANGE), 0).astype(np.int64)
    first = int(run.sequences[0])
    counted: IntArray = first + np.concatenate([[0], np.cumsum(steps + rounds * _SEQUENCE_RANGE)])
    return counted


def count_samples(run: LoggerRun) -> SampleCounts:
    """Account for the samples of a run.

    Parameters
    ----------
    run : LoggerRun
        The run.
    """
    numbers = sample_numbers(run)
    received = _distinct(numbers)
    first, end = int(numbers.min()), int(numbers.max()) + 1
    if len(run.statuses) < 2:
        return SampleCounts(received=received, untold=end - first - received)
    begin, last = run.statuses[0][1], run.statuses[-1][1]
    due = last.due - begin.due
    inside = _distinct(numbers[(numbers >= begin.due) & (numbers < last.due)])
    missed, dropped = last.missed - begin.missed, last.dropped - begin.dropped
    lost = max(due - inside - missed - dropped, 0)
    whole = max(end, last.due) - min(first, begin.due)
    return SampleCounts(
        received=received,
        missed=missed,
        dropped=dropped,
        lost=lost,
        untold=max(whole - received - missed - dropped - lost, 0),
    )


def _distinct(numbers: IntArray) -> int:
    """Count different numbers; they mostly rise, and then need no sorting."""
    return len(numbers) if np.all(np.diff(numbers) > 0) else len(np.unique(numbers))
