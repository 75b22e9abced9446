"""Unbroken stretches of a log: where an estimator may work without falling into a gap."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.condition.stretches import runs_of
from ridelog.recording import BoolArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Samples from `start` up to and not including `stop`."""

    start: int
    stop: int

    @property
    def count(self) -> int:
        """Number of samples."""
        return self.stop - self.start

    @property
    def samples(self) -> slice:
        """The stretch as an index into an array."""
        return slice(self.start, self.stop)


def find_stretches(
    flags: BoolArray, *, bridge_count: int = 0, shortest_count: int = 1
) -> tuple[Stretch, ...]:
    """Find runs of True, with short holes bridged and short runs dropped.

    Parameters
    ----------
    flags : BoolArray
        True where the samples can be used, shape (n,).
    bridge_count : int
        Holes of up to this many samples [count] do not end a stretch.
    shortest_count : int
        Stretches with fewer samples than this [count] are dropped.

    Returns
    -------
    tuple of Stretch
        In order of time; no two touch.

    References
    ----------
    Derived here: run lengths from the places where the flag changes.
    """
    starts, stops = runs_of(flags)
    keep_apart = starts[1:] - stops[:-1] > bridge_count
    first = np.concatenate(([True], keep_apart)) if len(starts) else np.zeros(0, dtype=bool)
    last = np.concatenate((keep_apart, [True])) if len(starts) else np.zeros(0, dtype=bool)
    return tuple(
        Stretch(start=int(start), stop=int(stop))
        for start, stop in zip(starts[first], stops[last], strict=True)
        if stop - start >= shortest_count
    )
