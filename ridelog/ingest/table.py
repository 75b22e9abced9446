"""Read the columns that are needed from a log's table, fast, with every row accounted for."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import IO

import numpy as np
import numpy.typing as npt

from ridelog.errors import UnknownLayoutError
from ridelog.ingest.cells import WHITESPACE, split
from ridelog.ingest.last_line import TORN, is_whole
from ridelog.ingest.long_logs import MEMORY_VARIABLE, liveliest_rows, most_rows
from ridelog.ingest.open_log import OpenLog
from ridelog.ingest.rows import SortedLines, short_rows_remark, skip_text
from ridelog.ingest.sniff import TableFormat
from ridelog.ingest.sorted_chunks import sorted_chunks
from ridelog.ingest.table_chunks import (
    Chunk,
    Gathered,
    NotPlainError,
    Part,
    TellShare,
    is_rare_word,
    parsed_chunks,
    reads_all,
)
from ridelog.recording import FloatArray

_BLOCK_BYTES = 1 << 20
_TAIL_BYTES = 1 << 14
_LINES_BYTES = 1 << 12


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
    log: OpenLog,
    table: TableFormat,
    numeric: Sequence[int],
    text: Sequence[int] = (),
    tell: TellShare | None = None,
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
    tell : callable, optional
        Told how far it is.

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
    does not settle it, the lines are looked at one by one instead. Of a log that would not fit into
    memory the liveliest stretch that does is kept, and the rest told as rows left out.
    """
    for rare_words in (False, True):
        try:
            return _read_plain(log, table, numeric, text, tell, rare_words=rare_words)
        except ValueError as error:  # pandas' own parser errors are ValueErrors
            if not is_rare_word(error):
                break
    return _read_sorted(log, table, numeric, text, tell)


@dataclass(slots=True, kw_only=True)
class _Seen:
    """What shows while chunks go by: all rows, kept or not, and empty cells in a watched column."""

    row_count: int = 0
    gaps: bool = False
    before: int = 0
    after: int = 0


def _read_plain(
    log: OpenLog,
    table: TableFormat,
    numeric: Sequence[int],
    text: Sequence[int],
    tell: TellShare | None,
    *,
    rare_words: bool,
) -> Columns:
    """Read a table whose rows are all whole, but for the last."""
    end = _end_of_rows(log, table)
    watched = max(set(range(table.field_count)) - table.text_columns, default=None)
    wanted = {*numeric} if watched is None else {*numeric, watched}
    handle: IO[bytes] = log.handle
    if end is not None:
        handle = io.BufferedReader(Part(handle=log.handle, end=end), _BLOCK_BYTES)

    def chunks(tell: TellShare | None) -> Iterator[Chunk]:
        handle.seek(table.data_offset)
        return parsed_chunks(handle, table, wanted, text, tell, rare_words=rare_words)

    kept = _kept_chunks(log, table, lambda: chunks(_half(tell, 0)), numeric, text)
    parsed = chunks(tell if kept is None else _half(tell, 1))
    gathered, seen = _gathered(parsed, numeric, text, kept, watched)
    strict = reads_all({*numeric, *text}, table)
    if seen.gaps and not strict:
        raise NotPlainError
    if (seen.gaps or not strict) and not _adds_up(log, table, seen.row_count, end):
        raise NotPlainError
    columns = _with_left_out(_columns(gathered), seen, table)
    if end is None:
        return columns
    torn = skip_text(TORN, [table.data_line + _line_ends(log, table.data_offset, end)])
    return replace(
        columns,
        skipped=(*columns.skipped, torn),
        skipped_count=columns.skipped_count + 1,
    )


def _half(tell: TellShare | None, number: int) -> TellShare | None:
    """Tell the first (0) or second (1) of two passes as one of both."""
    return None if tell is None else lambda share: tell((number + share) / 2)


def _kept_chunks(
    log: OpenLog,
    table: TableFormat,
    chunks: Callable[[], Iterator[Chunk]],
    numeric: Sequence[int],
    text: Sequence[int],
) -> tuple[int, int] | None:
    """Which chunks to keep of a log that would not fit; None for all."""
    cells = len(numeric) + len(text)
    most = most_rows(cells) if cells else None
    begun = log.head[table.data_offset :]
    lines = begun.count(b"\n")
    if most is None or lines == 0:
        return None
    likely = (log.size_bytes - table.data_offset) / (len(begun) / lines)
    return None if likely <= most else liveliest_rows(chunks(), numeric, most)


def _gathered(
    chunks: Iterator[Chunk],
    numeric: Sequence[int],
    text: Sequence[int],
    kept: tuple[int, int] | None,
    watched: int | None = None,
) -> tuple[Gathered, _Seen]:
    """Put chunks together, or only some of them."""
    gathered, seen = Gathered(numeric=numeric, text=text), _Seen()
    for number, chunk in enumerate(chunks):
        seen.row_count += chunk.row_count
        if watched is not None and not seen.gaps:
            seen.gaps = bool(np.isnan(chunk.numbers[watched]).any())
        if kept is None or kept[0] <= number < kept[1]:
            gathered.add(chunk if kept is None else replace(chunk, share_read=1.0))
        elif number < kept[0]:
            seen.before += chunk.row_count
        else:
            seen.after += chunk.row_count
    return gathered, seen


def _columns(gathered: Gathered) -> Columns:
    return Columns(numbers=gathered.numbers(), texts=gathered.texts(), row_count=gathered.row_count)


def _with_left_out(columns: Columns, seen: _Seen, table: TableFormat) -> Columns:
    """Say which rows were left out because they would not fit."""
    left_out = seen.before + seen.after
    if not left_out:
        return columns
    first = seen.before + 1
    text = (
        f"all but rows {first} to {seen.before + columns.row_count} left out: the log would not fit"
        f" into memory, and there it moves most; close other programs, cut the log into shorter"
        f" drives, or set {MEMORY_VARIABLE}"
    )
    return replace(
        columns, skipped=(*columns.skipped, text), skipped_count=columns.skipped_count + left_out
    )


def _line_ends(log: OpenLog, begin: int, end: int) -> int:
    """Count the line ends of a part of a log."""
    count = 0
    log.handle.seek(begin)
    while begin < end and (block := log.handle.read(min(_BLOCK_BYTES, end - begin))):
        begin += len(block)
        count += block.count(b"\n")
    return count


def _end_of_rows(log: OpenLog, table: TableFormat) -> int | None:
    """Find where a torn last line begins; None where the last line is whole."""
    start = max(table.data_offset, log.size_bytes - _TAIL_BYTES)
    log.handle.seek(start)
    tail = log.handle.read()
    body = tail.rstrip(b"\r\n \x1a")
    if body.endswith(b"\0"):
        raise NotPlainError
    begin = max(body.rfind(b"\n"), body.rfind(b"\r")) + 1
    cells = split(body[begin:].decode(table.encoding, errors="replace"), table.delimiter)
    ended = b"\n" in tail[len(body) :] or b"\r" in tail[len(body) :]
    above = body[max(begin - _LINES_BYTES, 0) : begin].decode(table.encoding, errors="replace")
    lines = above.splitlines()[1 if begin > _LINES_BYTES else 0 :]
    whole = len(cells) >= table.field_count and (ended or is_whole(cells[-1], lines, table))
    return None if whole or begin == 0 else start + begin


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


def _read_sorted(
    log: OpenLog,
    table: TableFormat,
    numeric: Sequence[int],
    text: Sequence[int],
    tell: TellShare | None,
) -> Columns:
    """Parse lines sorted one by one; a fault that is left is a cell, and gets named."""
    found = SortedLines()
    kept = _kept_chunks(
        log,
        table,
        lambda: sorted_chunks(log, table, numeric, text, SortedLines(), _half(tell, 0)),
        numeric,
        text,
    )
    later = tell if kept is None else _half(tell, 1)
    gathered, seen = _gathered(
        sorted_chunks(log, table, numeric, text, found, later), numeric, text, kept
    )
    if gathered.row_count == 0:
        reasons = "; ".join(found.report()) or "its lines hold no numbers"
        raise UnknownLayoutError(log.path, f"no whole row is left: {reasons}")
    columns = replace(
        _columns(gathered),
        skipped=found.report(),
        skipped_count=found.skipped_count,
        remarks=short_rows_remark(found.short_rows),
    )
    return _with_left_out(columns, seen, table)
