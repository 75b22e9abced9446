"""Calibrations worded as keys of a channel's section in a car file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ridelog.car.description import ChannelMapping
from ridelog.car.edit import TomlValue
from ridelog.units import parse_quantity, unit_factor

Values = dict[str, TomlValue | None]
"""Keys to set; those with None are to be taken out."""


def travel_values(column: str, unit: str | None, points: Sequence[tuple[float, float]]) -> Values:
    """Word a travel sensor's calibration points.

    Parameters
    ----------
    column : str
        Its column.
    unit : str or None
        The column's unit; None for bare counts.
    points : sequence of (float, float)
        Reading in that unit, travel [m].
    """
    worded: list[list[Any]] = []
    for reading, travel_m in points:
        at: Any = float(f"{reading:.7g}") if unit is None else f"{reading:.7g} {unit}"
        worded.append([at, f"{1000 * travel_m:.3f} mm"])
    kept: Values = {"column": column} if unit is None else {"column": column, "unit": unit}
    return kept | {"points": worded, "scale": None, "offset": None, "sign": None}


def accelerometer_values(
    column: str,
    scale: float,
    offset_g: float,
    cross_axis: dict[str, float] | None = None,
    upside_down: bool = False,
) -> Values:
    """Word an accelerometer's calibration; readings times scale plus offset are in g.

    Parameters
    ----------
    column : str
        Its column.
    scale : float
        Acceleration per reading [g per reading].
    offset_g : float
        Added to it [g].
    cross_axis : dict of str to float, optional
        Factors of the sensor's other columns [g per reading].
    upside_down : bool
        Whether the axis points down in the car.
    """
    return {
        "column": column,
        "unit": "g",
        "scale": float(f"{scale:.7g}"),
        "offset": round(offset_g, 6),
        "cross_axis": {name: round(factor, 7) for name, factor in (cross_axis or {}).items()}
        or None,
        "sign": -1 if upside_down else None,
        "points": None,
    }


def zeroed_values(mapping: ChannelMapping, section: dict[str, Any], travel_m: float) -> Values:
    """Word a travel channel's section so that a travel becomes zero.

    Parameters
    ----------
    mapping : ChannelMapping
        How the channel is read now.
    section : dict
        What the car file says of it; empty where it says nothing.
    travel_m : float
        What it shows at ride height [m].
    """
    if mapping.points:
        shift_m = mapping.sign * travel_m
        points = [
            [reading, f"{1000 * (parse_quantity(value, 'length') - shift_m):.3f} mm"]
            for reading, value in section["points"]
        ]
        return {"points": points}
    unit = mapping.unit or "mm"
    shift = mapping.sign * travel_m / unit_factor(unit, "length")
    offset = float(f"{mapping.offset - shift:.6g}")
    if section:
        return {"offset": offset}
    return {"column": mapping.column, "unit": unit, "offset": offset}
