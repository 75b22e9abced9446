"""What a dyno sheet says of a knob before any drive: damping ratio against clicks."""

from __future__ import annotations

import numpy as np

from ridelog.car.description import Axle, DynoPoint
from ridelog.car.geometry import sprung_mass_per_corner_kg
from ridelog.recording import FloatArray

SECANT_SPEED_M_PER_S = 0.05
"""Where the damping ratio is counted."""


def sheet_law(axle: Axle, spring_rate_n_per_m: float) -> tuple[tuple[float, float], ...]:
    """Give the damping ratio that a dyno sheet promises, for the clicks on it.

    Parameters
    ----------
    axle : Axle
        The axle with its sheet.
    spring_rate_n_per_m : float
        Spring fitted today [N/m].

    Returns
    -------
    tuple of (float, float)
        Share of the knob's travel from full soft [1] and log damping ratio [1], rising; empty where
        there is no sheet, or it tells nothing near 0.05 m/s.

    Notes
    -----
    The secant at 0.05 m/s of the straight lines through the sheet's points and zero, mean of bump
    and rebound. Where a click reads softer than one below it, both take their mean. Clicks beyond
    the sheet's carry its last slope on.

    References
    ----------
    Contract: damping_ratio = C / (2 sqrt(K m)), C from the secant at 0.05 m/s, at the wheel.
    """
    if not axle.dyno_sheet or not axle.clicks:
        return ()
    wheel_rate = spring_rate_n_per_m * axle.motion_ratio**2
    critical = 2 * np.sqrt(wheel_rate * sprung_mass_per_corner_kg(axle))
    found = []
    for click in sorted({point.clicks for point in axle.dyno_sheet}):
        force = _force_n([point for point in axle.dyno_sheet if point.clicks == click])
        if force is not None:
            ratio = force / SECANT_SPEED_M_PER_S * axle.motion_ratio**2 / critical
            found.append((click / axle.clicks, float(np.log(ratio))))
    if len(found) < 2:
        return ()
    shares, logs = np.array(found).T
    stiffer = (np.maximum.accumulate(logs) + np.minimum.accumulate(logs[::-1])[::-1]) / 2
    return _to_both_ends(shares, stiffer)


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


def _force_n(points: list[DynoPoint]) -> float | None:
    """Mean of bump and rebound at 0.05 m/s [N]; None where the sheet starts much faster."""
    ordered = sorted(points, key=lambda point: point.speed_m_per_s)
    speeds = [0.0, *(point.speed_m_per_s for point in ordered)]
    if speeds[1] > 2 * SECANT_SPEED_M_PER_S or speeds[-1] < SECANT_SPEED_M_PER_S:
        return None
    forces = [0.0, *((point.bump_n + point.rebound_n) / 2 for point in ordered)]
    return float(np.interp(SECANT_SPEED_M_PER_S, speeds, forces))
