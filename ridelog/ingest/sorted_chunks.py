"""Rows of a table whose lines are not all alike: sorted one by one, then parsed in chunks."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from ridelog.errors import BadRowError, LogError
from ridelog.ingest.cells import is_missing, is_number, shown, split
from ridelog.ingest.open_log import OpenLog
from ridelog.ingest.rows import SortedLines, sorted_blocks
from ridelog.ingest.sniff import TableFormat
from ridelog.ingest.table_chunks import Chunk, TellShare, parsed_chunks


def sorted_chunks(
    log: OpenLog,
    table: TableFormat,
    numeric: Sequence[int],
    text: Sequence[int],
    found: SortedLines,
    tell: TellShare | None,
) -> Iterator[Chunk]:
    """Sort a log's lines block by block, and parse what is left of each.

    Parameters
    ----------
    log : OpenLog
        The open log.
    table : TableFormat
        Its layout.
    numeric, text : sequence of int
        Columns to parse as numbers and as text.
    found : SortedLines
        Gets what was left out.
    tell : callable or None
        Told how far it is.

    Yields
    ------
    Chunk
        The next rows.

    Raises
    ------
    BadRowError
        When a cell is not a number.
    """
    forgiving = replace(table, blanks_after_delimiter=True)
    for lines, share_read in sorted_blocks(log, table):
        found.add_left_out(lines)
        if tell is not None:
            tell(share_read)
        if not lines.texts:
            continue
        data = io.BytesIO("\n".join(lines.texts).encode(table.encoding, errors="replace"))
        try:
            chunks = list(parsed_chunks(data, forgiving, numeric, text))
        except ValueError:
            raise _bad_cell(log.path, table, lines, numeric) from None
        for chunk in chunks:
            yield replace(chunk, share_read=share_read)


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
