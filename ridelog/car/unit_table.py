"""Read a short table of quantities beside the car file: a list of springs, a dyno sheet."""

from __future__ import annotations

import csv
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

_HEADER = re.compile(r"^(?P<name>.*?)\s*(?:[\[(](?P<unit>.+)[\])])?$")
_MOST_ROWS = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitTable:
    """Rows by column name; a cell without a unit of its own carries its column's, as text."""

    rows: tuple[Mapping[str, str], ...] = ()
    faults: tuple[str, ...] = ()


def read_unit_table(
    path: Path, key: str, columns: Collection[str], needed: Collection[str], *, what: str
) -> UnitTable:
    """Read a table whose units stand with each value or in the column's name.

    Parameters
    ----------
    path : Path
        Text with commas, semicolons or tabs between columns, names in the first line. A unit
        stands with each value (``450 lbf/in``) or in the column's name (``rate [N/mm]``).
    key : str
        The car file's key that names the file.
    columns, needed : collection of str
        Columns known, and those that must be there.
    what : str
        What a row is, in the plural.

    Returns
    -------
    UnitTable
        Rows without their empty cells, or one line per fault.
    """
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, ValueError) as error:
        return UnitTable(faults=(f"{key}: {path.name} cannot be read ({_reason(error)})",))
    lines = [line for line in lines if line.strip() and not line.startswith("#")]
    if not 2 <= len(lines) <= _MOST_ROWS:
        fault = f"{path.name}: write the columns' names and up to {_MOST_ROWS - 1} {what}"
        return UnitTable(faults=(fault,))
    separator = max(";\t,", key=lines[0].count)
    header, *rows = csv.reader(lines, delimiter=separator)
    names = [_column(text) for text in header]
    unknown = [name for name, _ in names if name not in columns]
    missing = [name for name in needed if name not in dict(names)]
    if unknown or missing:
        fault = (
            f'column "{unknown[0]}" is unknown'
            if unknown
            else f"the column {missing[0]} is missing"
        )
        return UnitTable(faults=(f"{path.name}: {fault}; known are {', '.join(columns)}",))
    return UnitTable(
        rows=tuple(
            {
                name: f"{cell.strip()} {unit}".strip()
                for (name, unit), cell in zip(names, row, strict=False)
                if cell.strip()
            }
            for row in rows
        )
    )


def _reason(error: Exception) -> str:
    return (
        "not UTF-8 text"
        if isinstance(error, ValueError)
        else str(getattr(error, "strerror", error))
    )


def _column(text: str) -> tuple[str, str]:
    """Split a column's header into its name and unit."""
    found = _HEADER.match(text.strip())
    name = found["name"] if found else text
    return name.strip().lower().replace(" ", "_"), (found and found["unit"]) or ""
