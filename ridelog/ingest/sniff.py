"""Find out how a text log is laid out: delimiter, decimal mark, header, first row of numbers."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ridelog.errors import UnknownLayoutError
from ridelog.ingest.cells import (
    WHITESPACE,
    is_comment,
    is_missing,
    is_number,
    printable,
    shown,
    split,
)
from ridelog.ingest.other_kinds import TRIED
from ridelog.units import QuantityError, check_unit

DELIMITERS = (",", ";", "\t", "|", WHITESPACE)
# These never stand inside a number or a time.
_SURE_DELIMITERS = frozenset({";", "\t", "|"})
# Rows looked at from the end of the head: enough to outvote any preamble, few enough to be quick.
_SAMPLE_ROWS = 25
# Enough for the header and rows of most logs; a long preamble needs the second, longer look.
_FIRST_LOOK_BYTES = 1 << 13
_DECIMAL_COMMA = re.compile(r"[-+]?\d*,\d+(?:[eE][-+]?\d+)?")
_LINE = re.compile(rb"[^\r\n]*(?:\r\n|\n|\r|$)")


@dataclass(frozen=True, slots=True, kw_only=True)
class TableFormat:
    """How the table in a text log is laid out.

    `names` are the header's cells, or "1", "2" ... where there is none, or too few. `units` are
    those of a unit row below the header, empty where there is none. Rows start `data_offset` bytes
    into the file, on line `data_line` (counted from 1), and have `field_count` fields.
    """

    delimiter: str
    decimal: str
    encoding: str
    names: tuple[str, ...]
    units: tuple[str, ...]
    has_header: bool
    data_offset: int
    data_line: int
    field_count: int
    text_columns: frozenset[int] = frozenset()
    blanks_after_delimiter: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """One line of the head; `number` counts from 1."""

    number: int
    offset: int
    text: str


def sniff(path: Path, head: bytes, whole: bool) -> TableFormat:
    """Find out how a log's table is laid out.

    Parameters
    ----------
    path : Path
        The file, for messages.
    head : bytes
        The beginning of the file.
    whole : bool
        Whether `head` is all of it; else its last line is cut and left out.

    Returns
    -------
    TableFormat
        The layout.

    Raises
    ------
    UnknownLayoutError
        When there is no table of numbers in the file.
    """
    short = head[:_FIRST_LOOK_BYTES]
    if not whole and len(short) < len(head):
        try:
            return sniff(path, short, whole=False)
        except UnknownLayoutError:
            pass
    encoding = _encoding(head)
    lines = _lines(head, encoding, whole)
    rows = [line for line in lines if line.text.strip() and not is_comment(line.text)]
    delimiter, field_count = _delimiter(rows)
    numeric = _numeric_columns(rows, delimiter, field_count)
    lengths = _row_lengths(rows, delimiter, field_count)
    first = next(
        (i for i, row in enumerate(rows) if _is_data(row, delimiter, numeric, lengths)), None
    )
    if first is None or not any(numeric):
        raise UnknownLayoutError(path, _no_rows(rows))
    names, units = _header(rows[:first], lines, rows[first].number, delimiter, lengths)
    if len(names) in lengths:  # rows that end early by habit: the header knows how many there are
        field_count = max(field_count, len(names))
    sample_rows = rows[first:][-_SAMPLE_ROWS:]
    sample = [cell for row in sample_rows for cell in split(row.text, delimiter)]
    return TableFormat(
        delimiter=delimiter,
        decimal="," if _has_decimal_comma(sample, delimiter) else ".",
        encoding=encoding,
        names=(*names, *(str(i + 1) for i in range(len(names), field_count))),
        units=units,
        has_header=bool(names),
        data_offset=rows[first].offset,
        data_line=rows[first].number,
        field_count=field_count,
        text_columns=frozenset(i for i, is_number in enumerate(numeric) if not is_number),
        blanks_after_delimiter=any(f"{delimiter} " in row.text for row in sample_rows),
    )


def _encoding(head: bytes) -> str:
    """Tell UTF-8 from the one-byte encodings of the West; the end of the head may be cut."""
    try:
        head.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return "utf-8-sig" if error.start > len(head) - 4 else "cp1252"
    return "utf-8-sig"


def _lines(head: bytes, encoding: str, whole: bool) -> list[_Line]:
    """Cut the head into lines, with their places in the file."""
    found = [match for match in _LINE.finditer(head) if match.group()]
    if not whole and len(found) > 1:
        found = found[:-1]
    return [
        _Line(number=i + 1, offset=match.start(), text=_text(match.group(), encoding))
        for i, match in enumerate(found)
    ]


def _text(line: bytes, encoding: str) -> str:
    """Decode one line without its end."""
    return line.decode(encoding, errors="replace").strip("\r\n\0\ufeff")


def _delimiter(rows: Sequence[_Line]) -> tuple[str, int]:
    """Choose the delimiter that cuts most rows into the same number of mostly numeric cells."""
    sample = rows[-_SAMPLE_ROWS:]
    best, best_score, best_count = ",", 0.0, 1
    for delimiter in DELIMITERS:
        cut = [split(row.text, delimiter) for row in sample]
        count, times = Counter(len(cells) for cells in cut).most_common(1)[0] if cut else (1, 0)
        cells = [cell for cells in cut if len(cells) == count for cell in cells]
        numbers = sum(is_number(cell) or is_missing(cell) for cell in cells)
        score = (times / len(sample)) * (numbers / len(cells)) if cells else 0.0
        if count > 1:
            score += 1e-3  # a table of one column only where nothing else fits
        if any(mark in cell for cell in cells for mark in _SURE_DELIMITERS - {delimiter}):
            score -= 1e-4  # of equals: "10:00:00;0,5" is cut at the semicolon
        if score > best_score:
            best, best_score, best_count = delimiter, score, count
        if score > 1:  # every row alike and every cell a number
            break
    return best, best_count


def _numeric_columns(rows: Sequence[_Line], delimiter: str, field_count: int) -> list[bool]:
    """Tell for each column whether most of its filled cells are numbers."""
    cut = [split(row.text, delimiter) for row in rows[-_SAMPLE_ROWS:]]
    full = [cells for cells in cut if len(cells) == field_count]
    columns = [
        [cell for cell in column if not is_missing(cell)] for column in zip(*full, strict=True)
    ]
    return [2 * sum(map(is_number, column)) >= len(column) for column in columns]


def _row_lengths(rows: Sequence[_Line], delimiter: str, field_count: int) -> frozenset[int]:
    """List how many cells rows may have: as most have, or as more than one row has."""
    counts = Counter(len(split(row.text, delimiter)) for row in rows[-_SAMPLE_ROWS:])
    return frozenset({field_count, *(count for count, times in counts.items() if times > 1)})


def _is_data(row: _Line, delimiter: str, numeric: Sequence[bool], lengths: frozenset[int]) -> bool:
    """Tell whether a line is a row of the table: as many cells, numbers where numbers belong."""
    cells = split(row.text, delimiter)
    if min(abs(len(cells) - length) for length in lengths) > 1:
        return False
    wanted = [cell for cell, is_numeric in zip(cells, numeric, strict=False) if is_numeric]
    fitting = sum(is_number(cell) or is_missing(cell) for cell in wanted)
    return any(map(is_number, wanted)) and 2 * fitting > len(wanted)


def _header(
    above: Sequence[_Line],
    lines: Sequence[_Line],
    data_line: int,
    delimiter: str,
    lengths: frozenset[int],
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Find names and units in the lines above the first row."""
    cut = [split(line.text, delimiter) for line in above[-2:]]
    fitting = [cells for cells in cut if min(abs(len(cells) - n) for n in lengths) <= 1]
    if len(fitting) == 2 and _are_units(fitting[1]):
        return _names(fitting[0]), tuple(cell.strip("[]()") for cell in fitting[1])
    if cut and fitting and fitting[-1] is cut[-1]:
        return _names(fitting[-1]), ()
    remarks = [line for line in lines if line.number < data_line and is_comment(line.text)]
    for line in reversed(remarks):
        cells = split(line.text.strip().lstrip("#%/"), delimiter)
        if len(cells) in lengths:
            return _names(cells), ()
    return (), ()


def _names(cells: Sequence[str]) -> tuple[str, ...]:
    """Take a header's cells as names that can be shown."""
    return tuple(printable(cell) for cell in cells)


def _are_units(cells: Sequence[str]) -> bool:
    """Tell whether a line below the header names units."""
    words = [cell.strip("[]() ") for cell in cells]
    return sum(word in ("", "-") or _is_unit(word) for word in words) * 2 > len(words)


def _is_unit(word: str) -> bool:
    """Tell whether a word is a unit."""
    try:
        check_unit(word)
    except QuantityError:
        return False
    return True


def _has_decimal_comma(cells: Sequence[str], delimiter: str) -> bool:
    """Tell whether the numbers have a decimal comma."""
    comma = sum(_DECIMAL_COMMA.fullmatch(cell) is not None for cell in cells)
    return comma > 0 and comma > sum("." in cell and is_number(cell) for cell in cells)


def _no_rows(rows: Sequence[_Line]) -> str:
    """Word that there is nothing to read."""
    if not rows:
        return "holds no rows, only remarks; record again"
    return f'holds no row of numbers ({TRIED}); its last line reads "{shown(rows[-1].text)}"'
