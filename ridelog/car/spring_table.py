"""Read a list of springs on sale from a CSV file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from ridelog.car.springs import SpringOnSale
from ridelog.car.unit_table import read_unit_table
from ridelog.units import QuantityError, parse_quantity

_KINDS = {"rate": "rate", "free_length": "length", "block_length": "length"}
_COLUMNS = ("name", *_KINDS, "price")


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
    table = read_unit_table(path, "springs_on_sale_file", _COLUMNS, ("rate",), what="springs")
    springs, faults = [], list(table.faults)
    for number, row in enumerate(table.rows, start=1):
        try:
            springs.append(_spring(row))
        except QuantityError as error:
            faults.append(f"{path.name}, spring {number}: {error}")
    return tuple(springs), tuple(faults)


def _spring(row: Mapping[str, str]) -> SpringOnSale:
    """Read one row."""
    values = {name: parse_quantity(row[name], kind) for name, kind in _KINDS.items() if name in row}
    if values.get("rate", 0.0) <= 0:
        raise QuantityError("has no rate above zero")
    free, block = values.get("free_length"), values.get("block_length")
    if free is not None and block is not None and block >= free:
        raise QuantityError("block_length must be less than free_length")
    return SpringOnSale(
        rate_n_per_m=values["rate"],
        name=row.get("name", ""),
        free_length_m=free,
        block_length_m=block,
        price=_price(row.get("price")),
    )


def _price(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return float(text)
    except ValueError:
        raise QuantityError(f'price "{text}" is no number; write it without currency') from None
