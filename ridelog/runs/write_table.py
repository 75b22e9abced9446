"""Write a table as CSV: never over anything, and with no cell that a spreadsheet would run."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

from ridelog.errors import FileError

# What spreadsheets take for the beginning of a formula.
_FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r")


def safe_cell(cell: str) -> str:
    """Put an apostrophe before a cell that a spreadsheet would run as a formula.

    Parameters
    ----------
    cell : str
        What shall stand in the cell. Numbers stay as they are, signs and all.

    References
    ----------
    OWASP Foundation, CSV Injection (community page): the marks and the apostrophe.
    """
    if not cell.startswith(_FORMULA_MARKS):
        return cell
    try:
        float(cell.replace(",", "."))
    except ValueError:
        return f"'{cell}"
    return cell


def write_table(path: Path, rows: Iterable[Sequence[str]], delimiter: str) -> None:
    """Write rows as a new CSV file.

    Parameters
    ----------
    path : Path
        Where to; must not exist.
    rows : iterable of sequence of str
        The cells, header first.
    delimiter : str
        What stands between cells.

    Raises
    ------
    FileError
        When there is something under this name, or no folder to put it.
    """
    if not path.parent.is_dir():
        raise FileError(path, f"there is no folder {path.parent}; make it first")
    try:
        with path.open("x", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, delimiter=delimiter, lineterminator="\n")
            writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    except FileExistsError:
        raise FileError(path, "exists; nothing was written, choose another name") from None
