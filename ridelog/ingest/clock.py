"""Turn a log's time column into seconds. There is no default sample rate and no guessed unit."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from ridelog.car.channels import SAMPLE_UNITS, WALL_CLOCK_UNITS
from ridelog.errors import ClockError
from ridelog.ingest.columns import absent, column_index, unit_in_name
from ridelog.ingest.open_log import OpenLog
from ridelog.ingest.sniff import TableFormat, shown
from ridelog.ingest.table import Columns, read_columns
from ridelog.recording import FloatArray
from ridelog.units import QuantityError, unit_factor

_REMEDY = 'say in the car file: [logger] time = { column = "...", unit = "ms" }'
# Words a time column's name begins with, in order of trust; "t" alone is a habit of the lab.
_TIME_WORD = re.compile(r"^(time|timestamp|t|elapsed|seconds?|millis|micros|uptime|clock)(?![a-z])")
_UNIT_WORD = re.compile(r"(?:_|\s|\[|\()\s*(seconds|sec|s|ms|us|µs|μs|ns|min)\s*[\])]?\s*$")
_TIME_OF_DAY = re.compile(r"\d\d:\d\d:\d\d")
_LONG_NAMES = {"seconds": "s", "second": "s", "sec": "s", "millis": "ms", "micros": "us"}
# A bare "t" or "time" is taken as seconds only where its steps look like it: a logger that samples
# at 2 Hz to 20 kHz. Milliseconds or microseconds would step by a whole number or more.
_STEP_OF_SECONDS = (5e-5, 0.5)
# Counters of cheap loggers wrap at these widths (8, 16, 32 bit).
_WRAPS = (2.0**8, 2.0**16, 2.0**32)


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeColumn:
    """Which column is the clock, and its unit: a unit of time, "samples" or "ISO 8601"."""

    index: int | None
    column: str
    unit: str | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadClock:
    """Sample times in s as recorded; `epoch_s` is the first one's date and time, where known."""

    time_s: FloatArray
    epoch_s: float | None = None
    remarks: tuple[str, ...] = ()


def find_time(
    path: Path, table: TableFormat, column: str | None, unit: str | None, rate_hz: float | None
) -> TimeColumn:
    """Find the clock among a log's columns.

    Parameters
    ----------
    path : Path
        The log, for messages.
    table : TableFormat
        Its layout.
    column : str or None
        Column that the car file names.
    unit : str or None
        Its unit that the car file names.
    rate_hz : float or None
        Sample rate that the car file states [Hz].

    Returns
    -------
    TimeColumn
        The clock; without a column where rows are counted at the stated rate.

    Raises
    ------
    ClockError
        When there is no clock, or more than one.
    """
    named = column_index(path, table, column) if column is not None else None
    if named is not None:
        own = _LONG_NAMES.get(unit or "", unit) or _unit_of(table, named)
        return TimeColumn(index=named, column=table.names[named], unit=own)
    candidates = _candidates(table)
    if len(candidates) == 1:
        index = candidates[0]
        return TimeColumn(index=index, column=table.names[index], unit=_unit_of(table, index))
    if len(candidates) > 1:
        names = ", ".join(f'"{table.names[index]}"' for index in candidates)
        raise ClockError(path, f"several time columns ({names}); {_REMEDY}")
    if column is not None:
        raise ClockError(path, absent("logger.time", column, table))
    if rate_hz is not None:
        return TimeColumn(index=None, column="", unit="samples")
    shown = ", ".join(f'"{name}"' for name in table.names[:16])
    raise ClockError(
        path, f'no time column among {shown}; {_REMEDY}, or sample_rate = "500 Hz" if it has none'
    )


def seconds(
    path: Path, clock: TimeColumn, values: FloatArray, rate_hz: float | None
) -> tuple[FloatArray, tuple[str, ...]]:
    """Turn the clock's readings into seconds, as recorded: it may stand still or run backwards.

    Parameters
    ----------
    path : Path
        The log, for messages.
    clock : TimeColumn
        The clock.
    values : ndarray
        Its readings, shape (n,); row numbers where there is no column.
    rate_hz : float or None
        Stated sample rate [Hz], for a clock in samples.

    Returns
    -------
    ndarray
        Time [s], shape (n,).
    tuple of str
        Remarks: wraps of a counter undone, unit taken for granted.

    Raises
    ------
    ClockError
        When the unit is unknown, or samples come without a rate.
    """
    straight, remarks = _without_wraps(values)
    if clock.unit in SAMPLE_UNITS:
        if rate_hz is None:
            raise ClockError(
                path, f'"{clock.column}" counts samples; add sample_rate = "500 Hz" under [logger]'
            )
        return straight / rate_hz, remarks
    if clock.unit is None:
        return straight, (*remarks, _taken_as_seconds(path, clock.column, straight))
    try:
        return straight * unit_factor(clock.unit, "time"), remarks
    except QuantityError as error:
        raise ClockError(path, f'time column "{clock.column}": {error}') from None


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
        Times such as ``2026-05-02T10:00:00.002`` (ISO 8601), shape (n,).

    Raises
    ------
    ClockError
        When the first cell is not such a time.
    """
    import pandas as pd

    cells = pd.Series(texts, dtype=object).astype(str)
    # Some loggers write a colon or a comma before the milliseconds.
    cells = cells.str.strip().str.replace(r"(\d\d:\d\d:\d\d)[:,](\d+)", r"\1.\2", regex=True)
    if _TIME_OF_DAY.match(cells.iloc[0]):
        cells = "1970-01-01T" + cells
    stamps = pd.to_datetime(cells, format="ISO8601", errors="coerce", utc=True)
    if pd.isna(stamps.iloc[0]):
        raise ClockError(
            path,
            f'time column "{column}": "{shown(str(texts[0]))}" is neither a number nor a'
            " date and time such as 2026-05-02T10:00:00.002",
        )
    since_first = (stamps - stamps.iloc[0]) / pd.Timedelta(seconds=1)
    return np.asarray(since_first, dtype=np.float64), float(stamps.iloc[0].timestamp())


def read_clock(
    log: OpenLog,
    table: TableFormat,
    clock: TimeColumn,
    numeric: Sequence[int],
    rate_hz: float | None,
) -> tuple[Columns, ReadClock]:
    """Read a log's clock together with other columns.

    Parameters
    ----------
    log : OpenLog
        The open log.
    table : TableFormat
        Its layout.
    clock : TimeColumn
        Its clock.
    numeric : sequence of int
        Indexes of the other columns.
    rate_hz : float or None
        Stated sample rate [Hz].

    Raises
    ------
    ClockError
        When the clock cannot be turned into seconds.
    """
    if clock.index is None:
        columns = read_columns(log, table, sorted(set(numeric)))
        readings: FloatArray = np.arange(columns.row_count, dtype=np.float64)
    elif clock.unit in WALL_CLOCK_UNITS or clock.index in table.text_columns:
        columns = read_columns(log, table, sorted(set(numeric)), [clock.index])
        time_s, epoch_s = wall_clock_seconds(log.path, clock.column, columns.texts[clock.index])
        return columns, ReadClock(time_s=time_s, epoch_s=epoch_s)
    else:
        columns = read_columns(log, table, sorted({*numeric, clock.index}))
        readings = columns.numbers[clock.index]
    time_s, remarks = seconds(log.path, clock, readings, rate_hz)
    return columns, ReadClock(time_s=time_s, remarks=remarks)


def _candidates(table: TableFormat) -> list[int]:
    """Columns that look like a clock: the contract's name alone, else all with a time word."""
    names = [" ".join(name.split()).lower() for name in table.names[: table.field_count]]
    if "time_s" in names:
        return [names.index("time_s")]
    worded = [i for i, name in enumerate(names) if _TIME_WORD.match(name)]
    with_unit = [i for i in worded if _unit_of(table, i) is not None]
    return with_unit or worded


def _unit_of(table: TableFormat, index: int) -> str | None:
    """Read the clock's unit off its name: ``time_ms``, ``Time (s)``, ``Time since start in ms``."""
    name = " ".join(table.names[index].split()).lower()
    if name in _LONG_NAMES:
        return _LONG_NAMES[name]
    found = _UNIT_WORD.search(name)
    if found:
        return _LONG_NAMES.get(found[1], found[1])
    unit = unit_in_name(table, index)
    return _LONG_NAMES.get(unit, unit) if unit else None


def _taken_as_seconds(path: Path, column: str, values: FloatArray) -> str:
    """Accept a clock without unit as seconds where its steps say so."""
    steps = np.diff(values[np.isfinite(values)])
    step = float(np.median(steps)) if steps.size else np.nan
    if not _STEP_OF_SECONDS[0] <= step <= _STEP_OF_SECONDS[1]:
        raise ClockError(
            path, f'time column "{column}" names no unit and steps by {step:g}; {_REMEDY}'
        )
    return f'time column "{column}" names no unit; its steps of {step:g} are taken as seconds'


def _without_wraps(values: FloatArray) -> tuple[FloatArray, tuple[str, ...]]:
    """Undo the wraps of a whole-numbered counter: it falls by its width, less a step."""
    steps = np.diff(values)
    falls = np.flatnonzero(steps < 0)
    if falls.size == 0 or not np.all(np.isfinite(values)) or np.any(values != np.round(values)):
        return values, ()
    usual = float(np.median(steps))
    for width in _WRAPS:
        if np.max(values) < width and np.all(np.abs(steps[falls] + width) <= 10 * max(usual, 1)):
            turns = np.concatenate(([0.0], np.cumsum(steps < 0)))
            return values + width * turns, (f"the clock's counter wrapped {falls.size} times",)
    return values, ()
