"""Read a damper's dyno sheet: force against speed at several places of its knobs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from ridelog.car.description import DynoPoint
from ridelog.car.dyno_force import Stroke, forces_by_place
from ridelog.car.unit_table import read_unit_table
from ridelog.units import QuantityError, parse_quantity

FORCES = ("bump", "rebound")
STROKE_OF: Mapping[str, Stroke] = {
    "clicks": "both",
    "bump_clicks": "bump",
    "rebound_clicks": "rebound",
}
"""The knobs that rule the damping at low speed, and in which stroke."""

OTHER_NAMES = {f"low_speed_{stroke}_clicks": f"{stroke}_clicks" for stroke in FORCES}
FEWEST_CLICKS = 2
LEAST_RISE = -0.05
"""Log force by which full stiff may lie below full soft: what a machine repeats to, common
practice, no source."""


def read_dyno_sheet(
    path: Path, knobs: Mapping[str, int], clicks_from: str
) -> tuple[tuple[DynoPoint, ...], tuple[str, ...]]:
    """Read a dyno sheet as CSV: a column for each knob, speed, bump and rebound, in any order.

    Parameters
    ----------
    path : Path
        The sheet, as `read_unit_table` reads it: ``clicks,speed [mm/s],bump [N],rebound [N]``, or
        ``bump_clicks,rebound_clicks,speed [mm/s],bump [N],rebound [N]`` for a damper with a knob
        for each stroke, where a force that was not measured may be left empty. Columns of
        high-speed knobs may be left out. Any sign of a force is taken off.
    knobs : mapping of str to int
        The damper's knobs, named as in `Axle`, with their highest click numbers [1].
    clicks_from : str
        ``soft`` or ``stiff``: where the sheet counts from, as everywhere in the car file.

    Returns
    -------
    tuple of DynoPoint
        In the sheet's order; empty where there are faults.
    tuple of str
        One line per fault.
    """
    ruling = [knob for knob in knobs if knob in STROKE_OF]
    longer = [name for name, knob in OTHER_NAMES.items() if knob in knobs]
    columns = (*knobs, *longer, "speed", *FORCES)
    table = read_unit_table(path, "dyno_sheet", columns, ("speed", *FORCES), what="points")
    faults = list(table.faults)
    rows = [{OTHER_NAMES.get(name, name): cell for name, cell in r.items()} for r in table.rows]
    absent = [knob for knob in ruling if not faults and not any(knob in row for row in rows)]
    if absent:
        return (), (f"{path.name}: the column {absent[0]} is missing; known are {_list(columns)}",)
    points = []
    for number, row in enumerate(rows, start=1):
        try:
            points.append(_point(row, knobs, ruling, clicks_from))
        except QuantityError as error:
            faults.append(f"{path.name}, point {number}: {error}")
    if not faults:
        faults = [f"{path.name}: {fault}" for fault in _sheet_faults(points, ruling)]
    return (() if faults else tuple(points)), tuple(faults)


def _point(
    row: Mapping[str, str], knobs: Mapping[str, int], ruling: Sequence[str], clicks_from: str
) -> DynoPoint:
    """Read one row."""
    both = len(ruling) < 2
    needed = (*ruling, "speed", *(FORCES if both else ()))
    missing = [name for name in needed if name not in row]
    if missing:
        raise QuantityError(f"{missing[0]} is missing")
    clicks = {knob: _click(row[knob], knob, last) for knob, last in knobs.items() if knob in row}
    if clicks_from == "stiff":
        clicks = {knob: knobs[knob] - click for knob, click in clicks.items()}
    speed = abs(parse_quantity(row["speed"], "speed", "50 mm/s"))
    forces = {side: abs(parse_quantity(row[side], "force")) for side in FORCES if side in row}
    if not forces:
        raise QuantityError("has no force; leave the row out")
    if not speed or not all(forces.values()):
        which = "both forces" if both else "forces"
        raise QuantityError(f"speed and {which} must differ from zero; leave the row out")
    return DynoPoint(
        speed_m_per_s=speed,
        bump_n=forces.get("bump"),
        rebound_n=forces.get("rebound"),
        **clicks,
    )


def _click(text: str, knob: str, highest: int) -> int:
    """Read a click number that the knob has."""
    if not text.isdecimal() or int(text) > highest:
        raise QuantityError(f'{knob} "{text}" is none of the knob\'s; write 0 to {highest}')
    return int(text)


def _sheet_faults(points: Sequence[DynoPoint], ruling: Sequence[str]) -> list[str]:
    """Say why a sheet of sound rows tells nothing of what a click does, or the wrong thing."""
    faults, told = [], 0
    for knob in ruling:
        stroke = STROKE_OF[knob] if len(ruling) > 1 else "both"
        found = forces_by_place(points, stroke)
        clicks = [getattr(point, knob) for point, _ in found]
        if len(set(clicks)) < FEWEST_CLICKS:
            continue
        told += 1
        rise = np.polyfit(np.array(clicks) / max(clicks), np.log([f for _, f in found]), 1)[0]
        if rise < LEAST_RISE:
            faults.append(
                f"less force at stiffer {knob}; check clicks_from, or whether the columns of two "
                "knobs are exchanged"
            )
    if not told:
        measured = {knob: len({getattr(p, knob) for p in points}) for knob in ruling}
        if max(measured.values()) < FEWEST_CLICKS:
            faults.append(f"tells one click only; measure at {FEWEST_CLICKS} or more")
        else:
            faults.append(
                f"tells no force near 50 mm/s at {FEWEST_CLICKS} clicks of a knob (points from "
                "100 mm/s downwards, up to 50 or more), where the damping ratio is counted"
            )
    return faults


def _list(names: Sequence[str]) -> str:
    return ", ".join(names)
