"""Join the files of one drive that a logger split, in the order of their clocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from itertools import pairwise
from pathlib import Path

from ridelog.errors import BadRowError, ClockError, LogError
from ridelog.ingest.cells import shown, split
from ridelog.ingest.clock import TimeColumn, find_time
from ridelog.ingest.open_log import open_log
from ridelog.ingest.rows import SortedLines, sort_lines
from ridelog.ingest.sniff import TableFormat, sniff
from ridelog.ingest.wall_clock import DAY_S, wall_clock_seconds

RESTART_GAP_STEPS = 1000
"""A clock that starts anew does not tell how long the logger was off: a gap of so many steps (two
seconds at 500 Hz) keeps the analysis from bridging it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One file: its layout, whole rows, and its clock's first, last and usual step as recorded."""

    path: Path
    table: TableFormat
    time: TimeColumn
    lines: SortedLines
    start: Decimal
    end: Decimal
    step: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """Cells of the joined table: header, units where there are any, rows; and what was done."""

    delimiter: str
    header: tuple[str, ...]
    units: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    remarks: tuple[str, ...]


def join_parts(
    paths: Sequence[Path], time_column: str | None = None, time_unit: str | None = None
) -> Joined:
    """Join text logs whose columns are alike.

    Parameters
    ----------
    paths : sequence of Path
        The parts, in any order where their clocks go on, in their own order where they start anew.
    time_column, time_unit : str, optional
        The clock, where its name does not tell.

    Returns
    -------
    Joined
        All whole rows. A clock of numbers that starts anew goes on after a gap; every other cell is
        as recorded.

    Raises
    ------
    LogError
        When there are fewer than two parts, or their columns differ.
    ClockError
        When there is no clock, or the parts overlap.
    """
    if len(paths) < 2:
        raise LogError(paths[0] if paths else "", "is one file; name two or more parts to join")
    parts = [_read_part(path, time_column, time_unit) for path in paths]
    for part in parts[1:]:
        _check_alike(parts[0], part)
    parts, shifts, remarks = _placed(parts)
    skipped = [f"{part.path.name}: {text}" for part in parts for text in part.lines.report()]
    first = parts[0].table
    rows = [row for part, shift in zip(parts, shifts, strict=True) for row in _rows(part, shift)]
    return Joined(
        delimiter=" " if first.delimiter.isspace() and first.delimiter != "\t" else first.delimiter,
        header=first.names if first.has_header else (),
        units=first.units,
        rows=tuple(rows),
        remarks=(*remarks, *skipped),
    )


def _read_part(path: Path, time_column: str | None, time_unit: str | None) -> Part:
    """Read one part's rows and clock."""
    log = open_log(path)
    with log.handle:
        table = sniff(path, log.head, whole=log.size_bytes <= len(log.head))
        time = find_time(path, table, time_column, time_unit, None)
        log.handle.seek(table.data_offset)
        lines = sort_lines(log.handle.read(), table)
    index = time.index
    if index is None or len(lines.texts) < 2:
        raise LogError(path, "holds fewer than two whole rows with a clock; leave it out")
    rows = [split(text, table.delimiter) for text in lines.texts]
    cells = [row[index] for row in rows]
    if index in table.text_columns:
        if time.date_index is not None:
            cells = [f"{row[time.date_index]} {row[index]}" for row in rows]
        time_s, epoch_s = wall_clock_seconds(path, time.column, cells)
        clock = [Decimal(repr(float(second) + epoch_s)) for second in time_s]
    else:
        clock = [
            _number(path, table, n, cell) for n, cell in zip(lines.numbers, cells, strict=True)
        ]
    steps = sorted(b - a for a, b in pairwise(clock))
    return Part(
        path=path,
        table=table,
        time=time,
        lines=lines,
        start=clock[0],
        end=clock[-1],
        step=steps[len(steps) // 2],
    )


def _number(path: Path, table: TableFormat, line: int, cell: str) -> Decimal:
    """Read a clock's cell, every digit of it."""
    try:
        number = Decimal(cell.replace(table.decimal, "."))
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite():
        raise BadRowError(path, line, f'the clock reads "{shown(cell)}" where a number belongs')
    return number


def _check_alike(first: Part, other: Part) -> None:
    """Refuse parts whose columns are not the same."""
    ours, theirs = first.table, other.table
    if ours.names != theirs.names:
        odd = [name for name in theirs.names if name not in ours.names] or list(theirs.names)
        raise LogError(
            other.path,
            f'its columns are not those of {first.path.name} ("{odd[0]}"); they are no parts of'
            " one drive",
        )
    if (ours.delimiter, ours.decimal, ours.units) != (
        theirs.delimiter,
        theirs.decimal,
        theirs.units,
    ):
        raise LogError(other.path, f"is not laid out like {first.path.name}; export both alike")


def _placed(parts: list[Part]) -> tuple[list[Part], list[Decimal], list[str]]:
    """Put parts in order; tell what to add to each one's clock, and what was done."""
    if _by_time_of_day(parts[0]):
        return parts, [Decimal(0)] * len(parts), _in_one_day(parts)
    by_clock = sorted(parts, key=lambda part: part.start)
    if all(a.end < b.start for a, b in pairwise(by_clock)):
        remarks = [_gap_words(a, b) for a, b in pairwise(by_clock)]
        if by_clock != parts:
            names = ", ".join(part.path.name for part in by_clock)
            remarks.insert(0, f"put in the order of their clocks: {names}")
        return by_clock, [Decimal(0)] * len(parts), remarks
    shifts, remarks = [Decimal(0)], []
    for before, part in pairwise(parts):
        if part.time.index in part.table.text_columns or part.start > before.start + 10 * part.step:
            raise ClockError(
                part.path, f"its clock overlaps that of {before.path.name}; they cannot be joined"
            )
        gap = RESTART_GAP_STEPS * before.step
        shifts.append(before.end + shifts[-1] + gap - part.start)
        remarks.append(
            f"{part.path.name}: its clock starts anew; set to go on after a gap of"
            f" {gap.normalize():f}, the true one is not known"
        )
    return parts, shifts, remarks


def _by_time_of_day(part: Part) -> bool:
    """Tell whether a clock shows times of day without their date."""
    return part.time.index in part.table.text_columns and part.start < DAY_S


def _in_one_day(parts: list[Part]) -> list[str]:
    """Check that times of day go on from part to part as named, past midnight at most."""
    for before, part in pairwise(parts):
        if part.start <= before.end % Decimal(DAY_S) and before.end - part.start < DAY_S / 2:
            raise ClockError(
                part.path,
                f"begins before {before.path.name} ends, and its clock shows no date; name the"
                " parts in the order in which they were recorded",
            )
    return []


def _gap_words(before: Part, after: Part) -> str:
    """Say how long the logger was off between two parts, in the clock's own unit."""
    gap = (after.start - before.end).normalize()
    return f"{after.path.name} goes on {gap:f} after the end of {before.path.name}"


def _rows(part: Part, shift: Decimal) -> list[tuple[str, ...]]:
    """Cut rows into cells, the clock moved on where it started anew."""
    table, index = part.table, part.time.index or 0
    rows = []
    for text in part.lines.texts:
        cells = split(text, table.delimiter)
        if shift:
            moved = Decimal(cells[index].replace(table.decimal, ".")) + shift
            cells[index] = f"{moved:f}".replace(".", table.decimal)
        rows.append(tuple(cells))
    return rows
