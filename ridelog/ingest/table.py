"""Read the columns that are needed from a log's table, fast, with every row accounted for."""

from __future__ import annotations

import io
from collections.abc import Hashable, Sequence, Set
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ridelog.errors import BadRowError, LogError, UnknownLayoutError
from ridelog.ingest.cells import WHITESPACE, is_missing, is_number, shown, split
from ridelog.ingest.open_log import OpenLog
from ridelog.ingest.rows import SortedLines, skip_text, sort_lines
from ridelog.ingest.sniff import TableFormat
from ridelog.recording import FloatArray

if TYPE_CHECKING:
    from pandas.io.parsers import TextFileReader

AnyArray = npt.NDArray[Any]

_BLOCK_BYTES = 1 << 20
# Rows parsed at a time: large enough to be as fast as in one go, small beside the whole table.
_CHUNK_ROWS = 1 << 15
# Later rows may be shorter than the first, and pandas reads ahead of the rows that it returns.
_SPARE_ROOM = 1.25
_TAIL_BYTES = 1 << 14
_EXTRA_MISSING = ["-", "--", "none", "NONE", "Null", "Na", "na"]
# So many unused columns cost less to parse than counting delimiters does.
_CHEAP_UNUSED = 2
_TORN = "the last line looks cut off"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """The columns read, by their index in the table, and which rows were left out and why."""

    numbers: dict[int, FloatArray]
    texts: dict[int, npt.NDArray[np.object_]]
    row_count: int
    skipped: tuple[str, ...] = ()
    skipped_count: int = 0
    remarks: tuple[str, ...] = ()


class _NotPlainError(ValueError):
    """The rows are not all alike; look at the lines one by one."""


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
    UnknownLayoutError
        When no whole row is left.

    Notes
    -----
    All rows are parsed in one go, which fails where a row is too long, provided that no column is
    left out; a short row shows as an empty last cell, and by the number of delimiters. Where that
    does not settle it, the lines are looked at one by one instead.
    """
    try:
        return _read_plain(log, table, numeric, text)
    except ValueError:  # pandas' own parser errors are ValueErrors
        log.handle.seek(table.data_offset)
        lines = sort_lines(log.handle.read(), table)
        return _read_sorted(log.path, table, lines, numeric, text)


def _read_plain(
    log: OpenLog, table: TableFormat, numeric: Sequence[int], text: Sequence[int]
) -> Columns:
    """Read a table whose rows are all whole, but for the last."""
    end = _end_of_rows(log, table)
    watched = max(set(range(table.field_count)) - table.text_columns, default=None)
    log.handle.seek(table.data_offset)
    rows = log.handle if end is None else io.BytesIO(log.handle.read(end - table.data_offset))
    parsed, gaps = _parse(rows, table, numeric, text, watched)
    strict = _reads_all({*numeric, *text}, table)
    if gaps and not strict:
        raise _NotPlainError
    if (gaps or not strict) and not _adds_up(log, table, parsed.row_count, end):
        raise _NotPlainError
    if end is None:
        return parsed
    rows.seek(0)
    torn = skip_text(_TORN, [table.data_line + rows.read().count(b"\n")])
    return replace(parsed, skipped=(torn,), skipped_count=1)


def _reads_all(used: Set[int], table: TableFormat) -> bool:
    """Tell whether to parse all columns: few are unused, and pandas then refuses long rows."""
    return table.field_count - len(used) <= _CHEAP_UNUSED


def _end_of_rows(log: OpenLog, table: TableFormat) -> int | None:
    """Find where a torn last line begins; None where the last line is whole."""
    start = max(table.data_offset, log.size_bytes - _TAIL_BYTES)
    log.handle.seek(start)
    tail = log.handle.read()
    body = tail.rstrip(b"\r\n \x1a")
    if body.endswith(b"\0"):
        raise _NotPlainError
    begin = max(body.rfind(b"\n"), body.rfind(b"\r")) + 1
    cells = split(body[begin:].decode(table.encoding, errors="replace"), table.delimiter)
    ended = b"\n" in tail[len(body) :] or b"\r" in tail[len(body) :]
    whole = len(cells) >= table.field_count and (ended or _is_whole(cells[-1], body[:begin], table))
    return None if whole or begin == 0 else start + begin


def _is_whole(last: str, above: bytes, table: TableFormat) -> bool:
    """Tell whether the last cell of a line without end is whole: filled like the one above it."""
    line = above.rstrip(b"\r\n").rpartition(b"\n")[2].decode(table.encoding, errors="replace")
    filled = is_number((split(line, table.delimiter) or [""])[-1])
    return is_number(last) if filled else True


def _adds_up(log: OpenLog, table: TableFormat, row_count: int, end: int | None) -> bool:
    """Tell whether there are as many delimiters as whole rows need."""
    if table.delimiter == WHITESPACE:
        return False
    left = (end or log.size_bytes) - table.data_offset
    delimiters = 0
    log.handle.seek(table.data_offset)
    while left > 0 and (block := log.handle.read(min(_BLOCK_BYTES, left))):
        left -= len(block)
        delimiters += block.count(table.delimiter.encode())
        if b"\0" in block:
            return False
    return delimiters == row_count * (table.field_count - 1)


def _parse(
    handle: IO[bytes],
    table: TableFormat,
    numeric: Sequence[int],
    text: Sequence[int],
    watched: int | None,
) -> tuple[Columns, bool]:
    """Parse from where the handle stands; also tell whether the watched column has empty cells."""
    wanted = {*numeric} if watched is None else {*numeric, watched}
    begin = handle.tell()
    size_bytes = handle.seek(0, io.SEEK_END) - begin
    handle.seek(begin)
    held: dict[int, AnyArray] = {}
    row_count, gaps = 0, False
    with _reader(handle, table, wanted, text) as reader:
        for chunk in reader:
            if not {*wanted, *text} <= set(chunk.columns):
                raise _NotPlainError  # the first row is too short
            if watched is not None and not gaps:
                gaps = bool(np.isnan(chunk[watched].to_numpy()).any())
            share_read = (handle.tell() - begin) / size_bytes
            for index in (*numeric, *text):
                piece = chunk[index].to_numpy()
                held[index] = _appended(held.get(index), piece, row_count, share_read)
            row_count += len(chunk)
    return Columns(
        numbers={i: held[i][:row_count].astype(np.float64, copy=False) for i in numeric},
        texts={i: held[i][:row_count].astype(object, copy=False) for i in text},
        row_count=row_count,
    ), gaps


def _appended(
    column: AnyArray | None, piece: AnyArray, row_count: int, share_read: float
) -> AnyArray:
    """Add a chunk to a column; most logs have one chunk, and then it is the column.

    Room for all rows is made once, by the share of the file read so far: memory that nothing is
    written to costs nothing, growing piece by piece costs half the table again.
    """
    if column is None:
        return piece
    needed = row_count + len(piece)
    if needed > len(column):
        room = np.empty(int(_SPARE_ROOM * needed / min(share_read, 1.0)), piece.dtype)
        room[:row_count] = column[:row_count]
        column = room
    column[row_count:needed] = piece
    return column


def _reader(
    handle: IO[bytes], table: TableFormat, numeric: Set[int], text: Sequence[int]
) -> TextFileReader:
    """Set pandas up to read only what is needed."""
    import pandas as pd

    used = {*numeric, *text}
    kinds: dict[Hashable, type] = dict.fromkeys(numeric, np.float64) | dict.fromkeys(text, object)
    return pd.read_csv(
        handle,
        sep=r"\s+" if table.delimiter == WHITESPACE else table.delimiter,
        header=None,
        usecols=None if _reads_all(used, table) else sorted(used),
        dtype=kinds,
        decimal=table.decimal,
        na_values=_EXTRA_MISSING,
        skipinitialspace=table.blanks_after_delimiter,
        encoding=table.encoding,
        encoding_errors="replace",
        low_memory=False,
        chunksize=_CHUNK_ROWS,
    )


def _read_sorted(
    path: Path, table: TableFormat, lines: SortedLines, numeric: Sequence[int], text: Sequence[int]
) -> Columns:
    """Parse sorted lines; a fault that is left is a cell, and gets named."""
    if not lines.texts:
        raise UnknownLayoutError(path, f"no whole row is left: {'; '.join(lines.report())}")
    forgiving = replace(table, blanks_after_delimiter=True)
    data = io.BytesIO("\n".join(lines.texts).encode(table.encoding, errors="replace"))
    try:
        parsed, _ = _parse(data, forgiving, numeric, text, None)
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
            other_mark = "," if table.decimal == "." else "."
            if not (is_number(cell) or is_missing(cell)) or other_mark in cell:
                return BadRowError(
                    path,
                    number,
                    f'column "{table.names[index]}" holds "{shown(cell)}" where a number belongs;'
                    " leave the cell empty if there was no reading",
                )
    return LogError(path, "its numbers cannot be read; export the log again as plain CSV")
