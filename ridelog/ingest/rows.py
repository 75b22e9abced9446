"""Look at a log's lines one by one, where a quick look says that something is amiss with them.

Ordinary logs never come here. What does: torn lines, lines run together, headers in the middle,
remarks between rows, zero bytes from a card that lost power, quoted text with delimiters in it.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from ridelog.ingest.cells import WHITESPACE, is_comment, split
from ridelog.ingest.last_line import TORN, is_whole
from ridelog.ingest.open_log import OpenLog
from ridelog.ingest.sniff import TableFormat

_LINE_END = re.compile(r"\r\n|\n|\r")
# Where this share of the rows is short, leaving out empty cells at the end is the logger's habit.
_HABIT_SHARE = 0.05
_SHOWN_LINES = 8
# So many bytes are sorted at a time.
_BLOCK_BYTES = 1 << 23


@dataclass(slots=True, kw_only=True)
class SortedLines:
    """The lines worth reading, with their numbers, and the lines left out by reason."""

    texts: list[str] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    skipped: dict[str, list[int]] = field(default_factory=dict)
    short_rows: int = 0

    def skip(self, reason: str, number: int) -> None:
        """Leave a line out."""
        self.skipped.setdefault(reason, []).append(number)

    def add_left_out(self, more: SortedLines) -> None:
        """Take over what was left out of more lines, not the lines."""
        self.short_rows += more.short_rows
        for reason, numbers in more.skipped.items():
            self.skipped.setdefault(reason, []).extend(numbers)

    @property
    def skipped_count(self) -> int:
        """How many rows were left out."""
        return sum(len(numbers) for numbers in self.skipped.values())

    def report(self) -> tuple[str, ...]:
        """Say which lines were left out and why, one sentence for each reason."""
        return tuple(skip_text(reason, numbers) for reason, numbers in self.skipped.items())


def skip_text(reason: str, numbers: list[int]) -> str:
    """Word which lines were left out for one reason."""
    shown = ", ".join(str(number) for number in numbers[:_SHOWN_LINES])
    more = f" and {len(numbers) - _SHOWN_LINES} more" if len(numbers) > _SHOWN_LINES else ""
    return f"line{'s' if len(numbers) > 1 else ''} {shown}{more} left out: {reason}"


def short_rows_remark(short_rows: int) -> tuple[str, ...]:
    """Word that rows end early by habit, if any do."""
    if not short_rows:
        return ()
    return (f"{short_rows} rows end early; their missing cells are taken as empty",)


def sorted_blocks(log: OpenLog, table: TableFormat) -> Iterator[tuple[SortedLines, float]]:
    """Sort a table's lines into rows to read and lines to leave out, some MiB at a time.

    Parameters
    ----------
    log : OpenLog
        The open log.
    table : TableFormat
        Its layout.

    Yields
    ------
    SortedLines
        Rows with exactly the table's number of cells, and what was left out.
    float
        The share of the file that lies behind.

    Notes
    -----
    Whether rows end early by habit is told by the first block.
    """
    place, number, rest = table.data_offset, table.data_line, b""
    habit: bool | None = None
    while True:
        log.handle.seek(place)
        block = log.handle.read(_BLOCK_BYTES)
        place += len(block)
        at_end = place >= log.size_bytes or not block
        data = rest + block
        # a line end may lie across two blocks as CR and LF: cut behind a whole one
        cut = len(data) if at_end else data.rfind(b"\n", 0, -1) + 1 or data.rfind(b"\r", 0, -1) + 1
        if cut == 0 and not at_end:
            rest = data
            continue
        texts = _LINE_END.split(data[:cut].decode(table.encoding, errors="replace"))
        if not at_end:
            texts.pop()  # behind the last line end
        rest = data[cut:]
        lines, habit = _sort_lines(texts, number, table, habit, at_end)
        number += len(texts)
        yield lines, max(place - table.data_offset, 1) / max(log.size_bytes - table.data_offset, 1)
        if at_end:
            return


def sort_lines(data: bytes, table: TableFormat) -> SortedLines:
    """Sort all of a table's lines into rows to read and lines to leave out.

    Parameters
    ----------
    data : bytes
        The file from its first row on.
    table : TableFormat
        Its layout.

    Returns
    -------
    SortedLines
        Rows with exactly the table's number of cells, and what was left out.
    """
    lines = _LINE_END.split(data.decode(table.encoding, errors="replace"))
    return _sort_lines(lines, table.data_line, table, None, True)[0]


def _sort_lines(
    lines: list[str], first: int, table: TableFormat, habit: bool | None, at_end: bool
) -> tuple[SortedLines, bool]:
    """Sort some lines, the first of which has a number; also tell whether short rows are habit."""
    cut = [split(line, table.delimiter) for line in lines]
    counts = Counter(len(cells) for cells, line in zip(cut, lines, strict=True) if line.strip())
    short = sum(times for count, times in counts.items() if count < table.field_count)
    if habit is None:
        habit = short > _HABIT_SHARE * sum(counts.values()) and table.delimiter != WHITESPACE
    found = SortedLines(short_rows=short if habit else 0)
    header = {tuple(table.names), tuple(table.names[: table.field_count])}
    last = len(lines) - 1 if at_end else len(lines)
    for i, (line, cells) in enumerate(zip(lines, cut, strict=True)):
        number = first + i
        if not line.strip(" \0\t,;|\x1a"):
            if "\0" in line:
                found.skip("zero bytes, as after a power cut", number)
            continue
        reason = _reason_to_skip(line, cells, table, header, habit and i != last)
        if (
            reason is None
            and i == last
            and not is_whole(cells[-1], lines[max(i - 50, 0) : i], table)
        ):
            reason = TORN
        if reason is not None:
            found.skip(reason, number)
            continue
        found.texts.append(line + table.delimiter * (table.field_count - len(cells)))
        found.numbers.append(number)
    return found, habit


def _reason_to_skip(
    line: str,
    cells: list[str],
    table: TableFormat,
    header: set[tuple[str, ...]],
    short_is_fine: bool,
) -> str | None:
    """Say why a line is no row of the table, if it is none."""
    if "\0" in line:
        return "zero bytes, as after a power cut"
    if is_comment(line):
        return "a remark"
    if table.has_header and tuple(cells) in header:
        return "the header again"
    if len(cells) < table.field_count and not short_is_fine:
        return f"fewer than {table.field_count} cells, the line looks cut off"
    if len(cells) > table.field_count and any(cells[table.field_count :]):
        return f"more than {table.field_count} cells, two lines may have run together"
    return None
