"""Readings and quantities as an owner states them on the command line."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.errors import CalibrationError
from ridelog.units import QuantityError, parse_quantity, parse_reading, unit_of_reading

Pairs = Sequence[tuple[str, str]]


def stated_unit(pairs: Pairs) -> str | None:
    """Take the readings' unit from the first; the others must fit it.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Readings, each with what belongs to it.

    Raises
    ------
    CalibrationError
        When the first reading is none.
    """
    try:
        return unit_of_reading(pairs[0][0]) if pairs else None
    except QuantityError as error:
        raise CalibrationError(str(error)) from None


def stated_pairs(pairs: Pairs, unit: str | None, kind: str) -> list[tuple[float, float]]:
    """Read pairs of reading and quantity.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Readings and quantities with their units.
    unit : str or None
        The readings' unit.
    kind : str
        Kind of the quantities, one of `ridelog.units.KINDS`.

    Raises
    ------
    CalibrationError
        When one of them is none.
    """
    return [(stated_reading(each, unit), stated_quantity(value, kind)) for each, value in pairs]


def stated_reading(text: str, unit: str | None) -> float:
    """Read a sensor's reading.

    Parameters
    ----------
    text : str
        The reading, with or without its unit.
    unit : str or None
        The unit to read it in.

    Raises
    ------
    CalibrationError
        When it is no number, or its unit does not fit.
    """
    try:
        if unit_of_reading(text) is None:
            return float(text)
        return parse_reading(text, unit)
    except QuantityError as error:
        raise CalibrationError(str(error)) from None


def stated_quantity(text: str, kind: str) -> float:
    """Read a quantity into SI.

    Parameters
    ----------
    text : str
        The quantity with its unit.
    kind : str
        One of `ridelog.units.KINDS`.

    Raises
    ------
    CalibrationError
        When it is no such quantity.
    """
    try:
        return parse_quantity(text, kind)
    except QuantityError as error:
        raise CalibrationError(str(error)) from None
