"""Read the columns that are needed from a log's table, fast, with every row accounted for."""

from __future__ import annotations

import io
from collections.abc import Hashable, Sequence, Set
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import IO, TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ridelog.errors import BadRowError, LogError, UnknownLayoutError
from ridelog.ingest.open_log import OpenLog
from ridelog.ingest.rows import SortedLines, skip_text, sort_lines
from ridelog.ingest.sniff import WHITESPACE, TableFormat, is_missing, is_number, split
from ridelog.recording import FloatArray

if TYPE_CHECKING:
    from pandas.io.parsers import TextFileReader

_BLOCK_BYTES = 1 << 20
# Rows parsed at a time: large enough to be as fast as in one go, small beside the whole table.
_CHUNK_ROWS = 1 << 14
_TAIL_BYTES = 1 << 14
_EXTRA_MISSING = ["-", "--", "none", "NONE", "Null", "Na", "na"]
TORN = "the last line looks cut off"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    """How many rows there are to parse, and the number of a torn last line."""

    count: int
    torn_lines: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """The columns read, by their index in the table, and which rows were left out and why."""

    numbers: dict[int, FloatArray]
    texts: dict[int, npt.NDArray[np.object_]]
    row_count: int
    skipped: tuple[str, ...] = ()
    skipped_count: int = 0
    remarks: tuple[str, ...] = ()


def read_columns(
    log: OpenLog, table: TableFormat, numeric: Sequence[int], text: Sequence[int] = ()
) -> Columns:
    """Read columns of a log.

    Parameters
    ----------
    log : OpenLog
        The open log.
    table : TableFormat
        Its layout.
    numeric : sequence of int
        Indexes of the columns to read as numbers; empty cells become NaN.
    text : sequence of int
        Indexes of the columns to read as text.

    Returns
    -------
    Columns
        One array for each column, all of one length.

    Raises
    ------
    BadRowError
        When a cell of a numeric column is not a number.
    """
    found = _quick_look(log, table)
    if found is not None:
        try:
            return _parse(log.handle, table, found, numeric, text)
        except ValueError:  # pandas' parser errors are ValueErrors: look at the lines one by one
            pass
    log.handle.seek(table.data_offset)
    lines = sort_lines(log.handle.read(), table)
    return _parse_lines(log.path, table, lines, numeric, text)


def _quick_look(log: OpenLog, table: TableFormat) -> _Rows | None:
    """Count rows and cells without parsing; None where they do not add up."""
    end, torn = _end_of_rows(log, table)
    line_ends, delimiters = 0, 0
    log.handle.seek(table.data_offset)
    left = end - table.data_offset
    while left > 0 and (block := log.handle.read(min(_BLOCK_BYTES, left))):
        left -= len(block)
        line_ends += block.count(b"\n")
        delimiters += block.count(table.delimiter.encode())
        if b"\0" in block or (b"\r" in block and b"\n" not in block):
            return None
    rows = line_ends + 1
    if table.delimiter != WHITESPACE and delimiters != rows * (table.field_count - 1):
        return None
    log.handle.seek(table.data_offset)
    torn_line = [table.data_line + rows] if torn else []
    return _Rows(count=rows, torn_lines=torn_line)


def _end_of_rows(log: OpenLog, table: TableFormat) -> tuple[int, bool]:
    """Find where the last whole row ends, and whether a torn one follows it."""
    start = max(table.data_offset, log.size_bytes - _TAIL_BYTES)
    log.handle.seek(start)
    tail = log.handle.read()
    body = tail.rstrip(b"\r\n \x1a")
    last = body[max(body.rfind(b"\n"), body.rfind(b"\r")) + 1 :]
    cells = split(last.decode(table.encoding, errors="replace"), table.delimiter)
    unended = not tail[len(body) :].strip(b" \x1a")
    torn = len(cells) < table.field_count or (
        unended and not (is_number(cells[-1]) or is_missing(cells[-1]))
    )
    whole = len(last) == len(body) or not torn
    return start + len(body if whole else body[: -len(last)].rstrip(b"\r\n ")), not whole


def _parse(
    handle: IO[bytes],
    table: TableFormat,
    rows: _Rows,
    numeric: Sequence[int],
    text: Sequence[int],
) -> Columns:
    """Parse `rows.count` rows from where the handle stands."""
    numbers = dict(zip(numeric, np.empty((len(numeric), rows.count)), strict=True))
    texts = {index: np.empty(rows.count, dtype=object) for index in text}
    # Blank-separated rows cannot be counted by their delimiters; a short one lacks its last cell.
    last = table.field_count - 1
    watched = {last} - set(text) if table.delimiter == WHITESPACE else set()
    with _reader(handle, table, {*numeric, *watched}, text) as reader:
        done = 0
        while done < rows.count:
            chunk = reader.get_chunk(min(_CHUNK_ROWS, rows.count - done))
            if chunk.empty or (watched and chunk[last].isna().any()):
                raise ValueError("rows are missing")
            for index, column in (*numbers.items(), *texts.items()):
                column[done : done + len(chunk)] = chunk[index].to_numpy()
            done += len(chunk)
    return Columns(
        numbers=numbers,
        texts=texts,
        row_count=rows.count,
        skipped=tuple(skip_text(TORN, [line]) for line in rows.torn_lines),
        skipped_count=len(rows.torn_lines),
    )


def _reader(
    handle: IO[bytes], table: TableFormat, numeric: Set[int], text: Sequence[int]
) -> TextFileReader:
    """Set pandas up to read only what is needed."""
    import pandas as pd

    kinds: dict[Hashable, type] = dict.fromkeys(numeric, np.float64) | dict.fromkeys(text, object)
    return pd.read_csv(
        handle,
        sep=r"\s+" if table.delimiter == WHITESPACE else table.delimiter,
        header=None,
        usecols=sorted({*numeric, *text}),
        dtype=kinds,
        decimal=table.decimal,
        na_values=_EXTRA_MISSING,
        skipinitialspace=True,
        encoding=table.encoding,
        encoding_errors="replace",
        low_memory=False,
        iterator=True,
    )


def _parse_lines(
    path: Path, table: TableFormat, lines: SortedLines, numeric: Sequence[int], text: Sequence[int]
) -> Columns:
    """Parse sorted lines; a fault that is left is a cell, and gets named."""
    if not lines.texts:
        raise UnknownLayoutError(path, f"no whole row is left: {'; '.join(lines.report())}")
    data = io.BytesIO("\n".join(lines.texts).encode(table.encoding, errors="replace"))
    try:
        parsed = _parse(data, table, _Rows(count=len(lines.texts)), numeric, text)
    except ValueError:
        raise _bad_cell(path, table, lines, numeric) from None
    return replace(
        parsed,
        skipped=lines.report(),
        skipped_count=lines.skipped_count,
        remarks=tuple(lines.remarks),
    )


def _bad_cell(
    path: Path, table: TableFormat, lines: SortedLines, numeric: Sequence[int]
) -> LogError:
    """Find the first cell of a used column that is not a number."""
    for number, line in zip(lines.numbers, lines.texts, strict=True):
        cells = split(line, table.delimiter)
        for index in numeric:
            cell = cells[index] if index < len(cells) else ""
            if not (is_number(cell) or is_missing(cell)):
                return BadRowError(
                    path,
                    number,
                    f'column "{table.names[index]}" holds "{cell[:40]}" where a number belongs;'
                    " leave the cell empty if there was no reading",
                )
    return LogError(path, "its numbers cannot be read; export the log again as plain CSV")
