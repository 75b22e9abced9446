"""Runs of samples: where a mask is true, and for how long."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from ridelog.recording import BoolArray, FloatArray

IndexArray = npt.NDArray[np.intp]

# So few runs are sooner filled one by one than summed up along the whole log.
_FEW_RUNS = 1000


def runs_of(mask: BoolArray) -> tuple[IndexArray, IndexArray]:
    """First index and index past the last of each run of True, shape (runs,) each.

    Parameters
    ----------
    mask : bool array, shape (n,)
    """
    if len(mask) == 0:
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
    edges = np.flatnonzero(mask[1:] != mask[:-1]) + 1
    if mask[0]:
        edges = np.concatenate([[0], edges])
    if mask[-1]:
        edges = np.concatenate([edges, [len(mask)]])
    return edges[::2], edges[1::2]


def keep_long_runs(mask: BoolArray, shortest_samples: float) -> BoolArray:
    """Return the mask with its runs shorter than `shortest_samples` taken out, shape (n,)."""
    starts, ends = runs_of(mask)
    long_enough = ends - starts >= shortest_samples
    return mask_of(starts[long_enough], ends[long_enough], len(mask))


def mask_of(starts: IndexArray, ends: IndexArray, count: int) -> BoolArray:
    """Return a mask of `count` samples that is True in the runs [start, end)."""
    if len(starts) < _FEW_RUNS:
        mask = np.zeros(count, dtype=bool)
        for start, end in zip(starts, ends, strict=True):
            mask[start:end] = True
        return mask
    level = np.zeros(count + 1, dtype=np.int64)
    np.add.at(level, starts, 1)
    np.add.at(level, ends, -1)
    return np.cumsum(level[:-1]) > 0


def widen(mask: BoolArray, margin_samples: int) -> BoolArray:
    """Return the mask with each run of True grown by a margin on both sides."""
    starts, ends = runs_of(mask)
    grown_start = np.maximum(starts - margin_samples, 0)
    return mask_of(grown_start, np.minimum(ends + margin_samples, len(mask)), len(mask))


def as_seconds(mask: BoolArray, sample_rate_hz: float) -> FloatArray:
    """Return the runs of True as (start [s], end [s]), shape (runs, 2)."""
    starts, ends = runs_of(mask)
    return np.stack([starts, ends], axis=1) / sample_rate_hz
