"""Logs that would not fit into memory: which of their rows to keep."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

from ridelog.ingest.table_chunks import Chunk
from ridelog.recording import FloatArray

MEMORY_VARIABLE = "RIDELOG_MEMORY_MIB"
# Of what is free, so much is taken; the rest is for the system and what else runs.
_SHARE_OF_FREE = 0.6
# What an analysis holds at its peak, in tables of eight-byte numbers.
_TABLES = 4
# Room that the libraries of an analysis take once the log is read.
_LIBRARIES_BYTES = 300 << 20


def most_rows(cells_per_row: int) -> int | None:
    """How many rows may be kept, by the memory that is free or named in RIDELOG_MEMORY_MIB.

    A limit on the process itself (``ulimit -v``) counts where it is tighter.

    Parameters
    ----------
    cells_per_row : int
        Cells of each row that are kept.

    Returns
    -------
    int or None
        None where the system does not tell what is free.
    """
    allowed = _allowed_bytes()
    return None if allowed is None else max(1, int(allowed / (8 * _TABLES * cells_per_row)))


def _allowed_bytes() -> float | None:
    named = os.environ.get(MEMORY_VARIABLE, "")
    if named.isdecimal() and int(named) > 0:
        return float(int(named) << 20)
    free = _bytes_told("/proc/meminfo", "MemAvailable:")
    allowed = [_SHARE_OF_FREE * free] if free is not None else []
    left = _left_to_process_bytes()
    if left is not None:
        allowed.append(left)
    return min(allowed, default=None)


def _left_to_process_bytes() -> float | None:
    """What a limit on this process' addresses leaves for data; None without a limit."""
    try:
        import resource
    except ImportError:  # not on Windows
        return None
    limit, _ = resource.getrlimit(resource.RLIMIT_AS)
    taken = _bytes_told("/proc/self/status", "VmSize:")
    if limit == resource.RLIM_INFINITY or taken is None:
        return None
    return max(0.0, limit - taken - _LIBRARIES_BYTES)


def _bytes_told(file: str, name: str) -> float | None:
    """An entry of one of the system's files on memory; None where there is none."""
    try:
        lines = Path(file).read_text().splitlines()
    except OSError:
        return None
    return next((1024 * float(line.split()[1]) for line in lines if line.startswith(name)), None)


def liveliest_rows(chunks: Iterable[Chunk], numeric: Sequence[int], most: int) -> tuple[int, int]:
    """Find the stretch of a log that moves most, of those that fit.

    Parameters
    ----------
    chunks : iterable of Chunk
        All rows, in order.
    numeric : sequence of int
        The columns that count.
    most : int
        How many rows fit.

    Returns
    -------
    int, int
        First chunk and the one after the last. At least one chunk, even if that is too large.

    Notes
    -----
    Each column's mean step from row to row is compared with its own over the whole log, so that no
    unit counts more than another; a clock's steps are alike everywhere and count for nothing.
    """
    rows: list[int] = []
    steps: list[list[float]] = []
    for chunk in chunks:
        rows.append(chunk.row_count)
        steps.append([_mean_step(chunk.numbers[index]) for index in numeric])
    table = np.array(steps).reshape(len(rows), -1)
    usual = table.mean(axis=0)
    lively = (table / np.where(usual > 0, usual, 1.0)).sum(axis=1) * np.array(rows)
    best, best_sum = (0, 1), -1.0
    last = 0
    for first in range(len(rows)):
        last = max(last, first + 1)
        while last < len(rows) and sum(rows[first : last + 1]) <= most:
            last += 1
        total = float(lively[first:last].sum())
        if total > best_sum:
            best, best_sum = (first, last), total
    return best


def _mean_step(values: FloatArray) -> float:
    steps = np.abs(np.diff(values[np.isfinite(values)]))
    return float(steps.mean()) if steps.size else 0.0
