"""All columns of a recording of a serial logger, on its sample times, for other programs."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ridelog.errors import LogError
from ridelog.ingest.frame_names import TIME_COLUMN
from ridelog.ingest.frame_table import MARK_COLUMN, looks_like_frames, read_frames
from ridelog.ingest.names import CANONICAL
from ridelog.ingest.open_log import open_log
from ridelog.recording import FloatArray, IntArray

# Samples further apart than this many intervals have a gap between them.
_GAP_INTERVALS = 1.5
_FEWEST_FOR_A_SPLINE = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ExportedRecording:
    """A recording's columns by their headers, `time_s` first, and what it says of itself."""

    columns: dict[str, FloatArray]
    remarks: tuple[str, ...]


def read_for_export(path: Path) -> ExportedRecording:
    """Read a recording's columns, delays of the scan undone.

    Parameters
    ----------
    path : Path
        The recording.

    Raises
    ------
    LogError
        When it is no recording, or holds no samples.

    Notes
    -----
    A channel read later in the scan than its row's time is brought to that time by a cubic spline
    through its readings, between gaps. Where that would need a reading beyond them it is missing.
    """
    log = open_log(path, is_welcome=looks_like_frames)
    with log.handle:
        if not looks_like_frames(log.head):
            raise LogError(path, "is no recording of a serial logger; it needs no export")
        table = read_frames(log)
        names = table.format.names
        read = table.read(range(len(names)), ())
    columns: dict[str, FloatArray] = {}
    for index, (name, unit) in enumerate(zip(names, table.format.units, strict=True)):
        values, delay_s = read.numbers[index], table.delays_s.get(index, 0.0)
        if delay_s:
            values = on_time(read.numbers[0], values, delay_s)
        columns[_header(name, unit)] = values
    return ExportedRecording(columns=columns, remarks=(*read.skipped, *read.remarks))


def on_time(time_s: FloatArray, values: FloatArray, delay_s: float) -> FloatArray:
    """Bring readings that are late to their rows' times.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Times of the rows [s].
    values : ndarray, shape (n,)
        Readings; each was true `delay_s` before its row's time.
    delay_s : float
        The delay [s].

    Returns
    -------
    ndarray, shape (n,)
        Readings at the rows' times.
    """
    from scipy.interpolate import CubicSpline

    moved = np.full(len(values), np.nan)
    interval_s = float(np.median(np.diff(time_s))) if len(time_s) > 1 else 0.0
    for stretch in _stretches(time_s, values, interval_s):
        if len(stretch) < _FEWEST_FOR_A_SPLINE:
            continue
        true_s = time_s[stretch] - delay_s
        near = np.clip(time_s[stretch], true_s[0] - interval_s, true_s[-1] + interval_s)
        spline = CubicSpline(true_s, values[stretch])(near)
        moved[stretch] = np.where(near == time_s[stretch], spline, np.nan)
    return moved


def _stretches(time_s: FloatArray, values: FloatArray, interval_s: float) -> list[IntArray]:
    """Find the rows with readings, split where rows are missing between them."""
    rows = np.flatnonzero(np.isfinite(values))
    cuts = np.flatnonzero(np.diff(time_s[rows]) > _GAP_INTERVALS * interval_s) + 1
    return np.split(rows, cuts)


def _header(name: str, unit: str) -> str:
    """Name a column with its unit."""
    if name in (TIME_COLUMN, MARK_COLUMN) or name in CANONICAL or not unit:
        return name
    return name if name.endswith(f"[{unit}]") else f"{name} [{unit}]"
