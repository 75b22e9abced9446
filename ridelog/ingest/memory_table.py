"""Tables whose columns are in memory already: Parquet, MDF, tracks."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from ridelog.errors import LogError, UnknownLayoutError
from ridelog.ingest.cells import printable
from ridelog.ingest.sniff import TableFormat
from ridelog.ingest.table import Columns

AnyArray = npt.NDArray[Any]
ReadColumns = Callable[[Sequence[int], Sequence[int]], Columns]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpenTable:
    """A table's layout, and `read`, which takes the indexes of numeric and of text columns."""

    path: Path
    format: TableFormat
    read: ReadColumns


def memory_table(
    path: Path,
    columns: Mapping[str, AnyArray],
    units: Mapping[str, str],
    skipped: tuple[str, ...] = (),
    skipped_count: int = 0,
) -> OpenTable:
    """Make a table of columns in memory.

    Parameters
    ----------
    path : Path
        The file they come from.
    columns : mapping of str to ndarray
        Readings or texts by column name, each of shape (n,).
    units : mapping of str to str
        Units by column name, as far as the file names them.
    skipped : tuple of str
        What was left out, and why.
    skipped_count : int
        How many rows that were.

    Raises
    ------
    UnknownLayoutError
        When there is nothing in it.
    """
    names = tuple(columns)
    row_count = len(columns[names[0]]) if names else 0
    if row_count == 0:
        raise UnknownLayoutError(path, "holds no rows; record again, or export it again")
    table = TableFormat(
        delimiter=",",
        decimal=".",
        encoding="utf-8",
        names=tuple(printable(name) for name in names),
        units=tuple(units.get(name, "") for name in names),
        has_header=True,
        data_offset=0,
        data_line=1,
        field_count=len(names),
        text_columns=frozenset(i for i, name in enumerate(names) if columns[name].dtype == object),
    )

    def read(numeric: Sequence[int], text: Sequence[int] = ()) -> Columns:
        return Columns(
            numbers={i: _numbers(path, names[i], columns[names[i]]) for i in numeric},
            texts={i: columns[names[i]].astype(str).astype(object) for i in text},
            row_count=row_count,
            skipped=skipped,
            skipped_count=skipped_count,
        )

    return OpenTable(path=path, format=table, read=read)


def _numbers(path: Path, name: str, values: AnyArray) -> npt.NDArray[np.float64]:
    """Take a column as numbers; a copy, because calibration writes into it."""
    try:
        return np.array(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise LogError(
            path, f'column "{printable(name)}" holds text where numbers belong'
        ) from None
