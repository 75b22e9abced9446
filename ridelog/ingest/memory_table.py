"""Tables whose columns are in memory already: Parquet, MDF, tracks."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
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
    """A table's layout, and `read`, which takes the indexes of numeric and of text columns.

    `delays_s` are delays [s] that the file itself tells, by column index, positive where a column
    is late; `epoch_s` is the first row's date and time, where the file tells it beside its clock.
    """

    path: Path
    format: TableFormat
    read: ReadColumns
    delays_s: Mapping[int, float] = field(default_factory=dict)
    epoch_s: float | None = None


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
    texts = frozenset(i for i, name in enumerate(names) if columns[name].dtype == object)
    table = table_format(names, [units.get(name, "") for name in names], texts)

    def read(numeric: Sequence[int], text: Sequence[int] = ()) -> Columns:
        return Columns(
            numbers={i: _numbers(path, names[i], columns[names[i]]) for i in numeric},
            texts={i: columns[names[i]].astype(str).astype(object) for i in text},
            row_count=row_count,
            skipped=skipped,
            skipped_count=skipped_count,
        )

    return OpenTable(path=path, format=table, read=read)


def table_format(
    names: Sequence[str], units: Sequence[str], text_columns: frozenset[int] = frozenset()
) -> TableFormat:
    """Describe a table that is no text, as if it were one.

    Parameters
    ----------
    names : sequence of str
        Names of the columns.
    units : sequence of str
        Their units, empty where none is named.
    text_columns : frozenset of int
        Indexes of those that hold texts.
    """
    return TableFormat(
        delimiter=",",
        decimal=".",
        encoding="utf-8",
        names=tuple(printable(name) for name in names),
        units=tuple(units),
        has_header=True,
        data_offset=0,
        data_line=1,
        field_count=len(names),
        text_columns=text_columns,
    )


def _numbers(path: Path, name: str, values: AnyArray) -> npt.NDArray[np.float64]:
    """Take a column as numbers; a copy, because calibration writes into it."""
    try:
        return np.array(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise LogError(
            path, f'column "{printable(name)}" holds text where numbers belong'
        ) from None
