"""Write tables: never over anything, and with no cell that a spreadsheet would run."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import IO, Any

import numpy as np

from ridelog.errors import FileError
from ridelog.ingest.needs_library import needs_library
from ridelog.recording import FloatArray

# What spreadsheets take for the beginning of a formula.
_FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def safe_cell(cell: str) -> str:
    """Put an apostrophe before a cell that a spreadsheet would run as a formula.

    Parameters
    ----------
    cell : str
        What shall stand in the cell. Numbers stay as they are, signs and all; a line's end within
        becomes a line feed, which is quoted when it is written.

    References
    ----------
    OWASP Foundation, CSV Injection (community page): the marks, full-width ones too, and the
    apostrophe; from memory.
    """
    cell = cell.replace("\r\n", "\n").replace("\r", "\n")  # the csv module leaves CR unquoted
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

    def write(file: IO[Any]) -> None:
        writer = csv.writer(file, delimiter=delimiter, lineterminator="\n")
        writer.writerows([safe_cell(cell) for cell in row] for row in rows)

    _write_new(path, write, binary=False)


def write_columns(path: Path, columns: Mapping[str, FloatArray]) -> None:
    """Write columns of numbers as a new CSV file; NaN becomes an empty cell.

    Parameters
    ----------
    path : Path
        Where to; must not exist.
    columns : mapping of str to ndarray, each of shape (n,)
        The columns by their headers, a time first: it keeps its microseconds.

    Raises
    ------
    FileError
        When there is something under this name, or no folder to put it.
    """
    import pandas as pd

    time_s, *others = columns.values()
    texts = np.char.mod("%.6f", time_s)
    table = pd.DataFrame(dict(enumerate([texts, *others])), copy=False)
    table.columns = pd.Index([safe_cell(name) for name in columns])

    def write(file: IO[Any]) -> None:
        table.to_csv(file, index=False, float_format="%.7g", lineterminator="\n")

    _write_new(path, write, binary=False)


def write_parquet(path: Path, columns: Mapping[str, FloatArray]) -> None:
    """Write columns of numbers as a new Parquet file.

    Parameters
    ----------
    path : Path
        Where to; must not exist.
    columns : mapping of str to ndarray, each of shape (n,)
        The columns by their names.

    Raises
    ------
    FileError
        When there is something under this name, no folder to put it, or no Arrow library.
    """
    try:
        import pyarrow as pa
        from pyarrow import parquet
    except ImportError as missing:
        raise needs_library(path, "a Parquet file", "parquet", missing) from None
    table = pa.table(dict(columns))
    _write_new(path, lambda file: parquet.write_table(table, file), binary=True)


def _write_new(path: Path, write: Callable[[IO[Any]], object], *, binary: bool) -> None:
    """Write a new file, never over anything."""
    if not path.parent.is_dir():
        raise FileError(path, f"there is no folder {path.parent}; make it first")
    try:
        with path.open("xb") if binary else path.open("x", encoding="utf-8", newline="") as file:
            write(file)
    except FileExistsError:
        raise FileError(path, "exists; nothing was written, choose another name") from None
