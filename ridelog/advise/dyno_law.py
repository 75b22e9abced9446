"""What a dyno sheet says of a knob before any drive: damping ratio against clicks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ridelog.car.description import Axle
from ridelog.car.dyno_force import PLACE, Stroke, forces_by_place
from ridelog.car.geometry import sprung_mass_per_corner_kg
from ridelog.recording import FloatArray

SECANT_SPEED_M_PER_S = 0.05
"""Where the damping ratio is counted."""

LEAK_MEAN, LEAK_SD = 0.22, 0.18
"""What the other knob of a two-knob damper does to a stroke over its whole travel, in logs, before
a sheet tells it: as in `KnobPrior`."""

LEAST_LEAK_SD = 0.05
"""A sheet tells that of one damper, on a straight line: common practice, no source."""

MACHINE_SD = 0.03
"""How far a force measured twice differs, in logs: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLaw:
    """What a sheet promises for one knob.

    `points` are share of the knob's travel from full soft [1] and log damping ratio [1], rising,
    with the damper's other knob at full soft; empty where there is no sheet or it does not tell.
    `leak_mean` and `leak_sd` are what the other knob adds to the log over its whole travel [1].
    """

    points: tuple[tuple[float, float], ...] = ()
    leak_mean: float = LEAK_MEAN
    leak_sd: float = LEAK_SD


def sheet_law(
    axle: Axle,
    spring_rate_n_per_m: float,
    *,
    knob: str = "clicks",
    stroke: Stroke = "both",
    other_knob: str | None = None,
) -> SheetLaw:
    """Give the damping ratio that a dyno sheet promises, for the clicks on it.

    Parameters
    ----------
    axle : Axle
        The axle with its sheet.
    spring_rate_n_per_m : float
        Spring fitted today [N/m].
    knob : str, optional
        ``clicks``, ``bump_clicks`` or ``rebound_clicks``.
    stroke : str, optional
        ``bump``, ``rebound``, or ``both`` for the mean.
    other_knob : str, optional
        The knob of the other stroke, where the damper has one.

    Returns
    -------
    SheetLaw
        Without points where there is no sheet, or it tells nothing near 0.05 m/s at two clicks.

    Notes
    -----
    The secant at 0.05 m/s of the straight lines through the sheet's points and zero. Where a click
    reads softer than one below it, both take their mean. Clicks beyond the sheet's carry its last
    slope on. The other knob's leak is a straight line in logs, fitted together with the clicks and
    held to its usual size where the sheet does not part the two knobs. High-speed knobs rule this
    speed little: places that differ in them alone are averaged.

    References
    ----------
    Contract: damping_ratio = C / (2 sqrt(K m)), C from the secant at 0.05 m/s, at the wheel.
    """
    last = getattr(axle, knob)
    found = forces_by_place(axle.dyno_sheet, stroke)
    if not last or len({getattr(point, knob) for point, _ in found}) < 2:
        return SheetLaw()
    wheel_rate = spring_rate_n_per_m * axle.motion_ratio**2
    critical = 2 * np.sqrt(wheel_rate * sprung_mass_per_corner_kg(axle))
    forces = np.array([force for _, force in found])
    logs = np.log(forces / SECANT_SPEED_M_PER_S * axle.motion_ratio**2 / critical)
    clicks = np.array([getattr(point, knob) for point, _ in found])
    other_last = getattr(axle, other_knob) if other_knob else None
    others = np.zeros(len(found))
    if other_knob and other_last:
        others = np.array([getattr(point, other_knob) / other_last for point, _ in found])
    places, levels, leak, leak_sd = _parted(clicks, others, logs)
    stiffer = (np.maximum.accumulate(levels) + np.minimum.accumulate(levels[::-1])[::-1]) / 2
    return SheetLaw(
        points=_to_both_ends(places / last, stiffer),
        leak_mean=leak,
        leak_sd=max(leak_sd, LEAST_LEAK_SD),
    )


def click_effect(
    axle: Axle, knob: str, stroke: Literal["bump", "rebound"], speed_m_per_s: float
) -> float | None:
    """Tell how much one click of a knob changes the force at one speed, by the sheet.

    Parameters
    ----------
    axle : Axle
        The axle with its sheet.
    knob : str
        Any knob, named as in `Axle`.
    stroke : str
        ``bump`` or ``rebound``.
    speed_m_per_s : float
        Damper speed [m/s].

    Returns
    -------
    float or None
        Relative change of force per click towards stiff [1], between the ends of the clicks
        measured with all other knobs left alone; None where the sheet has no such clicks.

    References
    ----------
    Derived here.
    """
    others = [name for name in PLACE if name != knob]
    groups: dict[tuple[int | None, ...], list[tuple[int, float]]] = {}
    for point, force in forces_by_place(axle.dyno_sheet, stroke, speed_m_per_s):
        click = getattr(point, knob)
        if click is not None:
            place = tuple(getattr(point, name) for name in others)
            groups.setdefault(place, []).append((click, float(np.log(force))))
    ends = [(min(members), max(members)) for members in groups.values()]
    clicks = sum(stiff[0] - soft[0] for soft, stiff in ends)
    if not clicks:
        return None
    return float(np.expm1(sum(stiff[1] - soft[1] for soft, stiff in ends) / clicks))


def _parted(
    clicks: FloatArray, others: FloatArray, logs: FloatArray
) -> tuple[FloatArray, FloatArray, float, float]:
    """Part a level for every click from the other knob's leak and its standard deviation.

    Least squares with the leak's usual size as one more reading (ridge regression).
    """
    places, where = np.unique(clicks, return_inverse=True)
    design = np.zeros((len(logs) + 1, len(places) + 1))
    design[np.arange(len(logs)), where] = 1 / MACHINE_SD
    design[:-1, -1] = others / MACHINE_SD
    design[-1, -1] = 1 / LEAK_SD
    wanted = np.append(logs / MACHINE_SD, LEAK_MEAN / LEAK_SD)
    covariance = np.linalg.inv(design.T @ design)
    solved = covariance @ design.T @ wanted
    return places, solved[:-1], float(solved[-1]), float(covariance[-1, -1] ** 0.5)


def _to_both_ends(shares: FloatArray, logs: FloatArray) -> tuple[tuple[float, float], ...]:
    """Carry the sheet's first and last slope on to full soft and full stiff."""
    slopes = np.diff(logs) / np.diff(shares)
    places, values = list(shares), list(logs)
    if places[0] > 0:
        values.insert(0, logs[0] - slopes[0] * shares[0])
        places.insert(0, 0.0)
    if places[-1] < 1:
        values.append(logs[-1] + slopes[-1] * (1 - shares[-1]))
        places.append(1.0)
    return tuple((float(place), float(value)) for place, value in zip(places, values, strict=True))
