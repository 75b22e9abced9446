"""Put the columns of a second logger beside those of the first, by a motion that both felt."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ridelog.car.description import Logger
from ridelog.errors import LogError
from ridelog.ingest.at_instants import at_instants
from ridelog.ingest.clock import find_time, read_clock
from ridelog.ingest.join_parts import Joined
from ridelog.ingest.names import column_index, quoted, unit_in_name
from ridelog.ingest.open_table import open_table
from ridelog.ingest.shared_bumps import match_bumps
from ridelog.ingest.two_clocks import ClockMatch, match_clocks
from ridelog.recording import FloatArray

_CLOCK = "time_s"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Recorded:
    """One logger's columns of numbers by name, their units, its clock and its matched column."""

    time_s: FloatArray
    columns: dict[str, FloatArray]
    units: dict[str, str]
    matched: FloatArray


def join_loggers(
    first: Path, second: Path, felt_by: tuple[str, str], logger: Logger, by_bumps: bool = False
) -> tuple[Joined, ClockMatch]:
    """Join the logs of two loggers that rode along together.

    Parameters
    ----------
    first, second : Path
        Their logs; the first gives the rows and the clock.
    felt_by : (str, str)
        A column of each that feels the same motion, or the same bumps.
    logger : Logger
        The car file's logger section, where it names the first log's clock.
    by_bumps : bool
        Lay only the strongest bumps over each other, not the whole motion.

    Returns
    -------
    Joined
        The first log's numbers as recorded after a column ``time_s``, then the second's at the same
        instants, joined by straight lines, empty past its ends and in its holes.
    ClockMatch
        Offset and drift of the second clock, with intervals.

    Raises
    ------
    LogError
        When a log or its clock cannot be read, or a column is not there.
    CalibrationError
        When the two do not show the same motion or bumps.
    """
    ours = _read(first, felt_by[0], logger)
    theirs = _read(second, felt_by[1], Logger())
    find = match_bumps if by_bumps else match_clocks
    match = find(ours.time_s, ours.matched, theirs.time_s, theirs.matched)
    on_ours = match.on_first_clock(theirs.time_s)
    columns = {_CLOCK: ours.time_s} | {n: v for n, v in ours.columns.items() if n != _CLOCK}
    units = {_CLOCK: "s"} | {n: u for n, u in ours.units.items() if n != _CLOCK}
    for name, values in theirs.columns.items():
        free = name if name not in columns else f"{name} (second)"
        columns[free] = at_instants(ours.time_s, on_ours, values, -np.inf)
        units[free] = theirs.units[name]
    rows = zip(*(map(_cell, values) for values in columns.values()), strict=True)
    joined = Joined(
        delimiter=",",
        header=tuple(columns),
        units=tuple(unit or "-" for unit in units.values()) if any(units.values()) else (),
        rows=tuple(rows),
        remarks=(),
    )
    return joined, match


def _read(path: Path, column: str, logger: Logger) -> _Recorded:
    """Read all of a log's numbers with its clock in seconds."""
    with open_table(path) as opened:
        table = opened.format
        index = column_index(path, table, column)
        if index is None:
            raise LogError(path, f'no column "{column}"; it has {quoted(table.names)}')
        clock = find_time(path, table, logger.time_column, logger.time_unit, logger.sample_rate_hz)
        numeric = [i for i in range(table.field_count) if i not in table.text_columns]
        columns, read = read_clock(opened, clock, numeric, logger.sample_rate_hz)
    if index not in columns.numbers:
        raise LogError(path, f'column "{column}" holds text; name one that feels the motion')
    names = table.names
    return _Recorded(
        time_s=read.time_s,
        columns={names[i]: columns.numbers[i] for i in numeric},
        units={names[i]: unit_in_name(table, i) or "" for i in numeric},
        matched=columns.numbers[index],
    )


def _cell(value: float) -> str:
    """Write a number; nothing where there is none."""
    return f"{value:.10g}" if np.isfinite(value) else ""
