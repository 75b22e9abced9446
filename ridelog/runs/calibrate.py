"""Accelerometers and motion ratios calibrated from recordings and from what an owner states."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

from ridelog.car.channel_values import Values, accelerometer_values
from ridelog.car.motion_ratio import MotionRatioFit, fit_motion_ratio, lever_motion_ratio
from ridelog.ingest.calibration_accelerometer import (
    SixPositionFit,
    TwoPositionFit,
    six_positions,
    two_positions,
)
from ridelog.ingest.rest_reading import read_rest
from ridelog.runs.stated import Pairs, stated_quantity


def from_two_positions(
    up: Path, down: Path, column: str, upside_down: bool
) -> tuple[TwoPositionFit, Values]:
    """Calibrate one axis of an accelerometer from two recordings.

    Parameters
    ----------
    up, down : Path
        Recordings at rest with the sensor's axis up and down.
    column : str
        Its column.
    upside_down : bool
        Whether that axis points down in the car.
    """
    fit = two_positions(read_rest(up, [column])[0], read_rest(down, [column])[0])
    scale = 1 / fit.reading_per_g.value
    offset_g = -fit.zero_reading.value * scale
    return fit, accelerometer_values(column, scale, offset_g, None, upside_down)


def from_six_positions(
    files: Mapping[str, Path], columns: Sequence[str], axis: str, upside_down: bool
) -> tuple[SixPositionFit, Values]:
    """Calibrate three axes of an accelerometer from six recordings.

    Parameters
    ----------
    files : mapping of str to Path
        Recordings at rest by the axis that points up or down, such as ``+x``.
    columns : sequence of str
        The three columns, x first.
    axis : str
        Which axis of the sensor is to be read as a channel: ``x``, ``y`` or ``z``.
    upside_down : bool
        Whether that axis points down (backwards, left) in the car.
    """
    fit = six_positions({place: read_rest(path, columns) for place, path in files.items()})
    own = "xyz".index(axis)
    terms = {name: float(fit.matrix[i, own]) for i, name in enumerate(columns)}
    scale = terms.pop(columns[own])
    offset_g = float(fit.offset_g[own])
    return fit, accelerometer_values(columns[own], scale, offset_g, terms, upside_down)


def motion_ratio_from(pairs: Pairs, ride_height: str | None, reading_error: str) -> MotionRatioFit:
    """Fit a motion ratio to pairs of wheel height and damper length.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Wheel height and damper length with their units.
    ride_height : str or None
        Wheel height at ride height.
    reading_error : str
        Standard deviation of one reading.

    Raises
    ------
    CalibrationError
        When they determine no ratio.
    """
    heights = [
        (stated_quantity(wheel, "length"), stated_quantity(damper, "length"))
        for wheel, damper in pairs
    ]
    return fit_motion_ratio(
        [wheel for wheel, _ in heights],
        [damper for _, damper in heights],
        None if ride_height is None else stated_quantity(ride_height, "length"),
        stated_quantity(reading_error, "length"),
    )


def lever_ratio_from(damper_arm: str, wheel_arm: str, angle: str) -> float:
    """Motion ratio from lever arms.

    Parameters
    ----------
    damper_arm, wheel_arm : str
        Lengths with their units, from the arm's pivot.
    angle : str
        How far the damper leans from square on the arm, with its unit.
    """
    return lever_motion_ratio(
        stated_quantity(damper_arm, "length"),
        stated_quantity(wheel_arm, "length"),
        math.degrees(stated_quantity(angle, "angle")),
    )
