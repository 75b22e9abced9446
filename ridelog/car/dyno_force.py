"""Force at one speed, read off a damper's dyno sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from ridelog.car.description import DynoPoint

Stroke = Literal["bump", "rebound", "both"]

LOW_SPEED_M_PER_S = 0.05
"""Where the damping ratio is counted."""

PLACE = (
    "clicks",
    "bump_clicks",
    "rebound_clicks",
    "high_speed_bump_clicks",
    "high_speed_rebound_clicks",
)
"""The knobs that a point may name; together they are the place at which it was measured."""


def forces_by_place(
    points: Sequence[DynoPoint], stroke: Stroke, speed_m_per_s: float = LOW_SPEED_M_PER_S
) -> tuple[tuple[DynoPoint, float], ...]:
    """Tell the force at one speed for every place of the knobs.

    Parameters
    ----------
    points : sequence of DynoPoint
        A sheet.
    stroke : str
        ``bump``, ``rebound``, or ``both`` for their mean.
    speed_m_per_s : float, optional
        Damper speed [m/s].

    Returns
    -------
    tuple of (DynoPoint, float)
        A point measured at the place, and the force there [N]: on straight lines through zero and
        the points of that place. Places whose points start at more than twice the speed, or end
        below it, are left out.
    """
    places: dict[tuple[int | None, ...], list[DynoPoint]] = {}
    for point in points:
        places.setdefault(tuple(getattr(point, knob) for knob in PLACE), []).append(point)
    found = []
    for members in places.values():
        told = sorted((p.speed_m_per_s, f) for p in members if (f := _force_n(p, stroke)))
        if not told or told[0][0] > 2 * speed_m_per_s or told[-1][0] < speed_m_per_s:
            continue
        speeds, forces = zip(*told, strict=True)
        force = np.interp(speed_m_per_s, (0.0, *speeds), (0.0, *forces))
        found.append((members[0], float(force)))
    return tuple(found)


def _force_n(point: DynoPoint, stroke: Stroke) -> float | None:
    """Take the force of one stroke, or the mean of both."""
    if stroke != "both":
        return point.bump_n if stroke == "bump" else point.rebound_n
    if point.bump_n is None or point.rebound_n is None:
        return None
    return (point.bump_n + point.rebound_n) / 2
