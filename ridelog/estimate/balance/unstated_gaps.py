"""Gaps of stops that the car file does not state, sought in what the balance leaves over."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.car.description import Car
from ridelog.estimate.balance.fit import BalanceFit
from ridelog.estimate.balance.leftover import owed_forces
from ridelog.estimate.balance.signals import CornerSignals
from ridelog.estimate.owed_force import STOPS
from ridelog.estimate.result import Estimate
from ridelog.estimate.stop_gap import find_gaps
from ridelog.recording import CORNERS


def unstated_gaps(
    fit: BalanceFit, parts: Sequence[CornerSignals], car: Car
) -> tuple[dict[str, Estimate], dict[str, Estimate]]:
    """Bump and droop gaps [mm] by corner, both corners of an axle alike.

    Parameters
    ----------
    fit : BalanceFit
        A fit made away from far travel.
    parts : sequence of CornerSignals
        Its stretches with travel, stops not kept out.
    car : Car
        The car; gaps it states are not returned.

    References
    ----------
    See `find_gaps`.
    """
    bump: dict[str, Estimate] = {}
    droop: dict[str, Estimate] = {}
    for stop, gap in find_gaps(owed_forces(fit, parts, car)).items():
        number, sign = STOPS[stop]
        axle = (car.front, car.rear)[number]
        found, stated_m = (bump, axle.bump_gap_m) if sign > 0 else (droop, axle.droop_gap_m)
        if stated_m is None:
            found.update(dict.fromkeys(CORNERS[2 * number : 2 * number + 2], gap))
    return bump, droop


def all_gaps_stated(car: Car) -> bool:
    """Whether the car file leaves no gap open.

    Parameters
    ----------
    car : Car
        The car.
    """
    gaps = (gap for axle in (car.front, car.rear) for gap in (axle.bump_gap_m, axle.droop_gap_m))
    return all(gap is not None for gap in gaps)
