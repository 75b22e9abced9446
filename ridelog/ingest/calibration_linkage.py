"""Travel from sensors that do not lie along the damper: slanted strings, arms with a rod."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ridelog.errors import CalibrationError

LARGEST_ERROR_M = 5e-5
"""Straight pieces between the points written stay within this of the curve: a third of what a
10-bit converter resolves of a 150 mm stroke."""
_MOST_POINTS = 65


@dataclass(frozen=True, slots=True, kw_only=True)
class StringGeometry:
    """A string from a fixed drum to a point that moves on a straight line.

    At ride height the point lies `along_m` from the drum in the direction of its motion and
    `across_m` to the side [m].
    """

    along_m: float
    across_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ArmGeometry:
    """A rotary sensor's arm that drives, by a rod, a point that moves up and down.

    `arm_m` and `rod_m` are their lengths [m]. At ride height the arm stands `arm_angle_deg` above
    the level and the rod `rod_angle_deg` off the vertical, away from the sensor [deg].
    """

    arm_m: float
    rod_m: float
    arm_angle_deg: float = 0.0
    rod_angle_deg: float = 0.0


def travel_of_string(geometry: StringGeometry, paid_out_m: float) -> float:
    """How far the point has moved away from the drum, from the string paid out since ride height.

    Parameters
    ----------
    geometry : StringGeometry
        Where drum and point are.
    paid_out_m : float
        Length of string more than at ride height [m].

    Returns
    -------
    float
        Motion of the point along its line, away from the drum [m].

    Raises
    ------
    CalibrationError
        When the string would be shorter than the distance across.

    References
    ----------
    Derived here: Pythagoras on along, across and string.
    """
    length = math.hypot(geometry.along_m, geometry.across_m) + paid_out_m
    if geometry.along_m <= 0 or geometry.across_m < 0 or length <= geometry.across_m:
        raise CalibrationError(
            f"a string of {1000 * length:.1f} mm cannot reach {1000 * geometry.across_m:.1f} mm"
            " across; check the geometry and the readings"
        )
    return math.sqrt(length**2 - geometry.across_m**2) - geometry.along_m


def travel_of_arm(geometry: ArmGeometry, turned_deg: float) -> float:
    """How far the rod's end has moved up, from the angle turned since ride height.

    Parameters
    ----------
    geometry : ArmGeometry
        Arm and rod.
    turned_deg : float
        How far the arm has turned upwards since ride height [deg].

    Returns
    -------
    float
        Motion of the rod's end, positive up [m].

    Raises
    ------
    CalibrationError
        When the rod cannot reach.

    References
    ----------
    Derived here: the rod's end keeps its distance from the sensor's shaft to the side and its
    distance from the arm's end.
    """
    if geometry.arm_m <= 0 or geometry.rod_m <= 0:
        raise CalibrationError("arm and rod must be longer than 0")
    start, lean = math.radians(geometry.arm_angle_deg), math.radians(geometry.rod_angle_deg)
    aside = geometry.arm_m * math.cos(start) + geometry.rod_m * math.sin(lean)

    def height(angle: float) -> float:
        reach = geometry.rod_m**2 - (aside - geometry.arm_m * math.cos(angle)) ** 2
        if reach <= 0:
            raise CalibrationError(
                f"the rod of {1000 * geometry.rod_m:.1f} mm cannot reach with the arm turned by"
                f" {math.degrees(angle - start):.0f} deg; check the geometry and the readings"
            )
        return geometry.arm_m * math.sin(angle) - math.sqrt(reach)

    return height(start + math.radians(turned_deg)) - height(start)


def curve_points(
    travel_m: Callable[[float], float], low: float, high: float
) -> tuple[tuple[float, float], ...]:
    """Points between which straight pieces follow a curve closely enough.

    Parameters
    ----------
    travel_m : callable
        Travel [m] at a reading.
    low, high : float
        Range of readings, in the column's unit.

    Returns
    -------
    tuple of (float, float)
        Readings and travels [m].

    Raises
    ------
    CalibrationError
        When the range is empty, or the travel turns back in it.
    """
    if not low < high:
        raise CalibrationError("the range of readings is empty; give the lowest and the highest")
    count = 3
    while True:
        readings = np.linspace(low, high, count)
        travels = np.array([travel_m(reading) for reading in readings])
        middles = (readings[:-1] + readings[1:]) / 2
        exact = np.array([travel_m(middle) for middle in middles])
        worst = np.abs((travels[:-1] + travels[1:]) / 2 - exact).max()
        if worst <= LARGEST_ERROR_M or count >= _MOST_POINTS:
            break
        count = 2 * count - 1
    rises = np.diff(travels)
    if not (np.all(rises > 0) or np.all(rises < 0)):
        raise CalibrationError(
            "the travel turns back within the range of readings: the arm passes its dead point"
        )
    return tuple((float(r), float(t)) for r, t in zip(readings, travels, strict=True))
