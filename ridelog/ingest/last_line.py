"""Whether the last line of a table that nothing ends was written whole."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.ingest.cells import is_number, split
from ridelog.ingest.sniff import TableFormat

TORN = "the last line may be cut off"


def is_whole(last: str, above: Sequence[str], table: TableFormat) -> bool:
    """Tell whether the last cell of a line without end is surely whole.

    It is where the lines above write one number of decimals and so does it: "9.8" under "9.81" is
    cut, and "10" under "1023" may be, as any number whose digits are not told by those above.

    Parameters
    ----------
    last : str
        The cell.
    above : sequence of str
        Some lines above it.
    table : TableFormat
        The table's layout.

    Returns
    -------
    bool
        Whether it is; also where the line above ends in words, which tell nothing.
    """
    cells = [(split(line, table.delimiter) or [""])[-1] for line in above if line.strip()]
    if not cells or not is_number(cells[-1]):
        return True
    decimals = {_decimals(cell, table) for cell in cells if is_number(cell)}
    return is_number(last) and 0 not in decimals and decimals == {_decimals(last, table)}


def _decimals(cell: str, table: TableFormat) -> int:
    return len(cell.partition(table.decimal)[2])
