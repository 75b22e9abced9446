"""Read a damper's dyno sheet: force against speed at several clicks."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from ridelog.car.description import DynoPoint
from ridelog.car.unit_table import read_unit_table
from ridelog.units import QuantityError, parse_quantity

COLUMNS = ("clicks", "speed", "bump", "rebound")
FEWEST_CLICKS = 2


def read_dyno_sheet(
    path: Path, highest: int, clicks_from: str
) -> tuple[tuple[DynoPoint, ...], tuple[str, ...]]:
    """Read a dyno sheet as CSV: columns clicks, speed, bump and rebound, in any order.

    Parameters
    ----------
    path : Path
        The sheet, as `read_unit_table` reads it: ``clicks,speed [mm/s],bump [N],rebound [N]``. Any
        sign of a force is taken off.
    highest : int
        Highest click number of the knob [1].
    clicks_from : str
        ``soft`` or ``stiff``: where the sheet counts from, as everywhere in the car file.

    Returns
    -------
    tuple of DynoPoint
        In the sheet's order; empty where there are faults.
    tuple of str
        One line per fault.
    """
    table = read_unit_table(path, "dyno_sheet", COLUMNS, COLUMNS, what="points")
    points, faults = [], list(table.faults)
    for number, row in enumerate(table.rows, start=1):
        try:
            points.append(_point(row, highest, clicks_from))
        except QuantityError as error:
            faults.append(f"{path.name}, point {number}: {error}")
    if not faults and len({point.clicks for point in points}) < FEWEST_CLICKS:
        faults.append(f"{path.name}: tells one click only; measure at {FEWEST_CLICKS} or more")
    return (() if faults else tuple(points)), tuple(faults)


def _point(row: Mapping[str, str], highest: int, clicks_from: str) -> DynoPoint:
    """Read one row."""
    missing = [name for name in COLUMNS if name not in row]
    if missing:
        raise QuantityError(f"{missing[0]} is missing")
    clicks = _click(row["clicks"], highest)
    speed = abs(parse_quantity(row["speed"], "speed", "50 mm/s"))
    bump, rebound = (abs(parse_quantity(row[side], "force")) for side in ("bump", "rebound"))
    if not speed or not bump or not rebound:
        raise QuantityError("speed and both forces must differ from zero; leave the row out")
    return DynoPoint(
        clicks=highest - clicks if clicks_from == "stiff" else clicks,
        speed_m_per_s=speed,
        bump_n=bump,
        rebound_n=rebound,
    )


def _click(text: str, highest: int) -> int:
    """Read a click number that the knob has."""
    if not text.isdecimal() or int(text) > highest:
        raise QuantityError(f'clicks "{text}" is none of the knob\'s; write 0 to {highest}')
    return int(text)
