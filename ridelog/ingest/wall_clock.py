"""Dates and times of day as loggers write them, turned into seconds."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ridelog.errors import ClockError
from ridelog.ingest.cells import shown
from ridelog.recording import FloatArray

if TYPE_CHECKING:
    import pandas as pd

DAY_S = 86400.0
_TIME_OF_DAY = re.compile(r"\d?\d:\d\d:\d\d")
# Some loggers write a colon or a comma before the milliseconds, or none where they are zero.
_ODD_FRACTION = r"(\d:\d\d:\d\d)[:,](\d+)"
_NO_FRACTION = r"(\d:\d\d:\d\d)(?![\d.:,])"
_OTHER_FORMATS = (
    "%m/%d/%Y %I:%M:%S.%f %p",
    "%d/%m/%Y %I:%M:%S.%f %p",
    "%m/%d/%Y %H:%M:%S.%f",
    "%d/%m/%Y %H:%M:%S.%f",
    "%d.%m.%Y %H:%M:%S.%f",
    "%Y/%m/%d %H:%M:%S.%f",
    "%Y-%m-%d %I:%M:%S.%f %p",
)
"""Where two fit, that counts which makes the log shorter; of equals the first."""


def wall_clock_seconds(
    path: Path, column: str, texts: Sequence[str] | npt.NDArray[np.object_]
) -> tuple[FloatArray, float]:
    """Turn date-and-time text into seconds after the first, and the first's seconds since 1970.

    Parameters
    ----------
    path : Path
        The log, for messages.
    column : str
        The column's name, for messages.
    texts : sequence of str
        Times such as ``2026-05-02T10:00:00.002`` (ISO 8601), ``5/2/2026 10:00:00.002 AM`` or
        times of day, shape (n,).

    Returns
    -------
    ndarray
        Time [s], shape (n,).
    float
        Seconds since 1970 [s]; of times of day, seconds since midnight.

    Raises
    ------
    ClockError
        When the first cell is not such a time.
    """
    import pandas as pd

    cells = pd.Series(texts, dtype=object).fillna("").astype(str).str.strip()
    cells = cells.str.replace(_ODD_FRACTION, r"\1.\2", regex=True)
    no_date = _TIME_OF_DAY.match(cells.iloc[0]) is not None
    if no_date:
        noon = cells.str.contains("[AP]M", case=False, regex=True).any()
        cells = ("1970-01-01 " if noon else "1970-01-01T") + cells
    stamps = _stamps(cells)
    if stamps is None:
        raise ClockError(
            path,
            f'time column "{column}": "{shown(str(texts[0]))}" is neither a number nor a'
            " date and time such as 2026-05-02T10:00:00.002",
        )
    since_first = np.asarray((stamps - stamps.iloc[0]) / pd.Timedelta(seconds=1), np.float64)
    if no_date:
        since_first = _past_midnight(since_first)
    return since_first, float(stamps.iloc[0].timestamp())


def _stamps(cells: pd.Series[str]) -> pd.Series[pd.Timestamp] | None:
    """Read dates and times: ISO 8601, else by the format that fits; None where none does."""
    import pandas as pd

    stamps = pd.to_datetime(cells, format="ISO8601", errors="coerce", utc=True)
    if not pd.isna(stamps.iloc[0]):
        return stamps
    cells = cells.str.replace(_NO_FRACTION, r"\1.0", regex=True)
    fitting = []
    for pattern in _OTHER_FORMATS:
        if not pd.isna(pd.to_datetime(cells.iloc[0], format=pattern, errors="coerce")):
            read = pd.to_datetime(cells, format=pattern, errors="coerce", utc=True)
            unread = int(read.isna().sum())
            fitting.append((unread, read.max() - read.min(), len(fitting), read))
    return min(fitting)[3] if fitting else None


def _past_midnight(time_s: FloatArray) -> FloatArray:
    """Carry times of day on past midnight, where they fall by more than half a day."""
    known = np.flatnonzero(np.isfinite(time_s))
    days = np.cumsum(np.diff(time_s[known]) < -DAY_S / 2)
    carried = time_s.copy()
    carried[known[1:]] += DAY_S * days
    return carried
