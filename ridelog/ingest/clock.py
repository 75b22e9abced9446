"""Turn a log's time column into seconds. There is no default sample rate and no guessed unit."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ridelog.car.channels import WALL_CLOCK_UNITS
from ridelog.errors import ClockError
from ridelog.ingest.memory_table import OpenTable
from ridelog.ingest.names import (
    absent,
    column_index,
    is_time_name,
    plain_name,
    quoted,
    unit_in_name,
)
from ridelog.ingest.seconds import CLOCK_REMEDY, seconds
from ridelog.ingest.sniff import TableFormat
from ridelog.ingest.table import Columns
from ridelog.ingest.wall_clock import wall_clock_seconds
from ridelog.recording import FloatArray

_UNIT_WORD = re.compile(r"(?:_|\s|\[|\()\s*(seconds|sec|s|ms|us|µs|μs|ns|min)\s*[\])]?\s*$")
_LONG_NAMES = {"seconds": "s", "second": "s", "sec": "s", "millis": "ms", "micros": "us"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeColumn:
    """Which column is the clock, and its unit: a unit of time, "samples" or "ISO 8601".

    `date_index` is the column that holds the date where the clock tells the time of day only.
    """

    index: int | None
    column: str
    unit: str | None
    date_index: int | None = None


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
        return TimeColumn(
            index=index,
            column=table.names[index],
            unit=_unit_of(table, index),
            date_index=_date_beside(table, index),
        )
    if len(candidates) > 1:
        names = quoted([table.names[index] for index in candidates])
        raise ClockError(path, f"several time columns ({names}); {CLOCK_REMEDY}")
    if column is not None:
        raise ClockError(path, absent("logger.time", column, table))
    if rate_hz is not None:
        return TimeColumn(index=None, column="", unit="samples")
    raise ClockError(
        path,
        f"no time column among {quoted(table.names)}; {CLOCK_REMEDY},"
        ' or sample_rate = "500 Hz" if it has none',
    )


def read_clock(
    opened: OpenTable,
    clock: TimeColumn,
    numeric: Sequence[int],
    rate_hz: float | None,
) -> tuple[Columns, ReadClock]:
    """Read a log's clock together with other columns.

    Parameters
    ----------
    opened : OpenTable
        The open log.
    clock : TimeColumn
        Its clock.
    numeric : sequence of int
        Indexes of the other columns.
    rate_hz : float or None
        Stated sample rate [Hz].

    Raises
    ------
    ClockError
        When the clock cannot be turned into seconds, or a channel is mapped to its text.
    """
    if clock.index is None:
        columns = opened.read(sorted(set(numeric)), [])
        readings: FloatArray = np.arange(columns.row_count, dtype=np.float64)
    elif clock.unit in WALL_CLOCK_UNITS or clock.index in opened.format.text_columns:
        indexes = [clock.index] if clock.date_index is None else [clock.date_index, clock.index]
        for index in set(numeric) & set(indexes):
            raise ClockError(
                opened.path,
                f'column "{opened.format.names[index]}" holds the clock\'s dates or times and'
                " cannot be a channel as well; map the channel to another column",
            )
        columns = opened.read(sorted(set(numeric)), indexes)
        texts = columns.texts[clock.index]
        if clock.date_index is not None:
            texts = columns.texts[clock.date_index] + " " + texts
        time_s, epoch_s = wall_clock_seconds(opened.path, clock.column, texts)
        return columns, ReadClock(time_s=time_s, epoch_s=epoch_s)
    else:
        columns = opened.read(sorted({*numeric, clock.index}), [])
        readings = columns.numbers[clock.index]
    time_s, remarks = seconds(opened.path, clock.column, clock.unit, readings, rate_hz)
    return columns, ReadClock(time_s=time_s, epoch_s=opened.epoch_s, remarks=remarks)


def _candidates(table: TableFormat) -> list[int]:
    """List what looks like a clock: the contract's name alone, else all with a time word."""
    names = [plain_name(name) for name in table.names[: table.field_count]]
    if "time_s" in names:
        return [names.index("time_s")]
    worded = [i for i in range(len(names)) if is_time_name(table, i)]
    with_unit = [i for i in worded if _unit_of(table, i) is not None]
    return with_unit or worded


def _date_beside(table: TableFormat, index: int) -> int | None:
    """Find the column of dates that belongs to a column of times of day."""
    if index not in table.text_columns:
        return None
    names = [plain_name(name) for name in table.names[: table.field_count]]
    dates = [i for i in table.text_columns if i < len(names) and names[i] == "date"]
    return dates[0] if len(dates) == 1 else None


def _unit_of(table: TableFormat, index: int) -> str | None:
    """Read the clock's unit off its name: ``time_ms``, ``Time (s)``, ``Time since start in ms``."""
    name = plain_name(table.names[index])
    if name in _LONG_NAMES:
        return _LONG_NAMES[name]
    found = _UNIT_WORD.search(name)
    if found:
        return _LONG_NAMES.get(found[1], found[1])
    unit = unit_in_name(table, index)
    return _LONG_NAMES.get(unit, unit) if unit else None
