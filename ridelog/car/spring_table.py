"""Read a list of springs on sale from a CSV file."""

from __future__ import annotations

import csv
import re
from pathlib import Path

from ridelog.car.springs import SpringOnSale
from ridelog.units import QuantityError, parse_quantity

_KINDS = {"rate": "rate", "free_length": "length", "block_length": "length"}
_COLUMNS = ("name", *_KINDS, "price")
_HEADER = re.compile(r"^(?P<name>.*?)\s*(?:[\[(](?P<unit>.+)[\])])?$")
_MOST_ROWS = 2000


def read_spring_table(path: Path) -> tuple[tuple[SpringOnSale, ...], tuple[str, ...]]:
    """Read springs on sale: columns rate and, where known, name, free_length, block_length, price.

    Parameters
    ----------
    path : Path
        Text with commas, semicolons or tabs between columns, names in the first line. A unit
        stands with each value (``450 lbf/in``) or in the column's name (``rate [N/mm]``).

    Returns
    -------
    tuple of SpringOnSale
        In the file's order.
    tuple of str
        One line per fault.
    """
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, ValueError) as error:
        return (), (f"springs_on_sale_file: {path.name} cannot be read ({_reason(error)})",)
    lines = [line for line in lines if line.strip() and not line.startswith("#")]
    if not 2 <= len(lines) <= _MOST_ROWS:
        return (), (f"{path.name}: write the columns' names and up to {_MOST_ROWS - 1} springs",)
    separator = max(";\t,", key=lines[0].count)
    header, *rows = csv.reader(lines, delimiter=separator)
    columns = [_column(text) for text in header]
    names = [name for name, _ in columns]
    unknown = [name for name in names if name not in _COLUMNS]
    if unknown or "rate" not in names:
        what = f'column "{unknown[0]}" is unknown' if unknown else "the column rate is missing"
        return (), (f"{path.name}: {what}; known are {', '.join(_COLUMNS)}",)
    springs, faults = [], []
    for number, row in enumerate(rows, start=1):
        try:
            springs.append(_spring(row, columns))
        except QuantityError as error:
            faults.append(f"{path.name}, spring {number}: {error}")
    return tuple(springs), tuple(faults)


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


def _spring(row: list[str], columns: list[tuple[str, str]]) -> SpringOnSale:
    """Read one row."""
    text: dict[str, str] = {}
    values: dict[str, float] = {}
    for (name, unit), cell in zip(columns, row, strict=False):
        found = cell.strip()
        if found and name in _KINDS:
            values[name] = parse_quantity(f"{found} {unit}".strip(), _KINDS[name])
        elif found:
            text[name] = found
    if values.get("rate", 0.0) <= 0:
        raise QuantityError("has no rate above zero")
    free, block = values.get("free_length"), values.get("block_length")
    if free is not None and block is not None and block >= free:
        raise QuantityError("block_length must be less than free_length")
    return SpringOnSale(
        rate_n_per_m=values["rate"],
        name=text.get("name", ""),
        free_length_m=free,
        block_length_m=block,
        price=_price(text.get("price")),
    )


def _price(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return float(text)
    except ValueError:
        raise QuantityError(f'price "{text}" is no number; write it without currency') from None
