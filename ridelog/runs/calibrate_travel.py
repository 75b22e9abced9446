"""Travel sensors calibrated from what an owner states: points, geometry, a standing car."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from ridelog.car.channel_values import Values, travel_values, zeroed_values
from ridelog.car.edit import channel_section, with_channel
from ridelog.car.load import load_car
from ridelog.ingest.calibration_linkage import (
    ArmGeometry,
    StringGeometry,
    curve_points,
    travel_of_arm,
    travel_of_string,
)
from ridelog.ingest.calibration_travel import TravelFit, fit_travel, with_zero_at
from ridelog.ingest.calibration_zero import ZeroReading, zero_readings
from ridelog.ingest.rest_reading import read_rest
from ridelog.runs.stated import Pairs, stated_pairs, stated_quantity, stated_reading, stated_unit


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelCalibration:
    """Points of a travel sensor, how they were judged, and the keys for a car file.

    `fit` is None where the points follow from stated geometry instead of measured ones.
    """

    points: tuple[tuple[float, float], ...]
    unit: str | None
    fit: TravelFit | None
    values: Values
    warnings: tuple[str, ...] = ()


def from_points(
    pairs: Pairs,
    column: str,
    bump: str,
    ride_height: str | None = None,
    standing: Path | None = None,
) -> TravelCalibration:
    """Calibrate a travel sensor that lies along the damper from measured points.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Reading and length with their units.
    column : str
        The sensor's column.
    bump : str
        Whether the measured length gets ``shorter`` or ``longer`` in bump.
    ride_height : str, optional
        The length at ride height.
    standing : Path, optional
        A recording of the standing car, which gives the reading at ride height instead.

    Raises
    ------
    CalibrationError
        When the points or the zero are no good.
    """
    sign = -1.0 if bump == "shorter" else 1.0
    unit = stated_unit(pairs)
    fit = fit_travel(
        [(reading, sign * length) for reading, length in stated_pairs(pairs, unit, "length")]
    )
    travels = [travel for _, travel in fit.calibration]
    warnings: tuple[str, ...] = ()
    if standing is not None:
        fit = with_zero_at(fit, read_rest(standing, [column])[0].mean)
        zero = 0.0
    elif ride_height is not None:
        zero = sign * stated_quantity(ride_height, "length")
    else:
        zero = (travels[0] + travels[-1]) / 2
        warnings = (
            "zero is in the middle of the points, not at ride height: run ridelog calibrate zero"
            " with a recording of the standing car",
        )
    points = tuple((reading, travel - zero) for reading, travel in fit.calibration)
    values = travel_values(column, unit, points)
    return TravelCalibration(points=points, unit=unit, fit=fit, values=values, warnings=warnings)


def from_string(
    pairs: Pairs, column: str, geometry: tuple[str, str], bump: str, ride_height: str
) -> TravelCalibration:
    """Calibrate a slanted string sensor from two or more points of reading and string length.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Reading and length of string paid out, from any datum, with their units.
    column : str
        The sensor's column.
    geometry : (str, str)
        Distance from drum to point at ride height along its motion, and across it.
    bump : str
        Whether the string gets ``shorter`` or ``longer`` in bump.
    ride_height : str
        The reading at ride height.

    Raises
    ------
    CalibrationError
        When points or geometry are no good.
    """
    along, across = (stated_quantity(text, "length") for text in geometry)
    string = StringGeometry(along_m=along, across_m=across)
    unit = stated_unit((*pairs, (ride_height, "0 mm")))
    line = fit_travel(stated_pairs(pairs, unit, "length"))
    paid_out = with_zero_at(line, stated_reading(ride_height, unit))
    sign = -1.0 if bump == "shorter" else 1.0

    def travel_m(reading: float) -> float:
        return sign * travel_of_string(string, _along(paid_out.calibration, reading))

    return _from_curve(travel_m, paid_out, column, unit)


def from_arm(
    pairs: Pairs, column: str, arm: ArmGeometry, bump: str, ride_height: str, lever_ratio: float
) -> TravelCalibration:
    """Calibrate a rotary sensor with arm and rod from two or more points of reading and angle.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Reading and angle of the arm, upwards positive, from any datum, with their units.
    column : str
        The sensor's column.
    arm : ArmGeometry
        Arm and rod at ride height.
    bump : str
        Whether the rod's end goes ``up`` or ``down`` against the sensor in bump.
    ride_height : str
        The reading at ride height.
    lever_ratio : float
        Damper travel / travel of the rod's end.

    Raises
    ------
    CalibrationError
        When points or geometry are no good.
    """
    unit = stated_unit((*pairs, (ride_height, "0 deg")))
    line = fit_travel(stated_pairs(pairs, unit, "angle"))
    turned = with_zero_at(line, stated_reading(ride_height, unit))
    factor = lever_ratio * (-1.0 if bump == "down" else 1.0)

    def travel_m(reading: float) -> float:
        return factor * travel_of_arm(arm, math.degrees(_along(turned.calibration, reading)))

    return _from_curve(travel_m, turned, column, unit)


def arm_geometry(arm: str, rod: str, arm_angle: str, rod_angle: str) -> ArmGeometry:
    """Read the geometry of a rotary sensor's arm and rod.

    Parameters
    ----------
    arm, rod : str
        Lengths with their units.
    arm_angle, rod_angle : str
        Angles at ride height with their units: arm above the level, rod off the vertical.
    """
    return ArmGeometry(
        arm_m=stated_quantity(arm, "length"),
        rod_m=stated_quantity(rod, "length"),
        arm_angle_deg=math.degrees(stated_quantity(arm_angle, "angle")),
        rod_angle_deg=math.degrees(stated_quantity(rod_angle, "angle")),
    )


def from_standing(log: Path, car_path: Path) -> tuple[ZeroReading, ...]:
    """Read the travel sensors of the standing car.

    Parameters
    ----------
    log : Path
        The recording.
    car_path : Path
        The car file with its mapping.
    """
    return zero_readings(log, load_car(car_path).logger)


def zeroed_text(path: Path, text: str, readings: Sequence[ZeroReading]) -> str:
    """Set a car file's travel channels to zero at ride height.

    Parameters
    ----------
    path : Path
        The car file, for messages.
    text : str
        Its content.
    readings : sequence of ZeroReading
        What the sensors showed.
    """
    for each in readings:
        section = channel_section(path, text, each.channel)
        values = zeroed_values(each.mapping, section, each.travel_m.value)
        text = with_channel(path, text, each.channel, values)
    return text


def _from_curve(
    travel_m: Callable[[float], float], line: TravelFit, column: str, unit: str | None
) -> TravelCalibration:
    """Write a curve through stated geometry as points."""
    low, high = line.points[0][0], line.points[-1][0]
    points = curve_points(travel_m, low, high)
    values = travel_values(column, unit, points)
    return TravelCalibration(points=points, unit=unit, fit=None, values=values)


def _along(points: Sequence[tuple[float, float]], reading: float) -> float:
    """Follow straight pieces between points, straight on past the ends."""
    pieces = list(pairwise(points))
    (r0, v0), (r1, v1) = next((p for p in pieces if reading <= p[1][0]), pieces[-1])
    return v0 + (v1 - v0) * (reading - r0) / (r1 - r0)
