"""Calibrate accelerometers by the earth's gravity, in two positions or in six."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ridelog.car.measured import Measured, around
from ridelog.errors import CalibrationError
from ridelog.ingest.rest_reading import RestReading
from ridelog.recording import FloatArray

POSITIONS = ("+x", "-x", "+y", "-y", "+z", "-z")
"""Which axis of the sensor points up (+) or down (-)."""
NORMAL_97_5 = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementSettings:
    """How well a sensor is set down.

    `tilt_deg`: standard deviation of the tilt about each level axis; one degree for a box on a
    table that was levelled by eye against a bubble is common practice (no source).
    `rest_spread_g`, `rest_drift_g`: more than this in a recording means that it was not at rest
    (cheap sensors have 2 to 5 mg of noise). `square_deg`: axes of one chip are square to half a
    degree; more than this off means that positions were not. `askew_deg`: one position may be this
    far off before it is warned of; six set down within a degree stay well below.
    """

    tilt_deg: float = 1.0
    rest_spread_g: float = 0.03
    rest_drift_g: float = 0.01
    square_deg: float = 3.0
    askew_deg: float = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoPositionFit:
    """One axis: reading at zero g, and readings per g, in the column's unit."""

    column: str
    zero_reading: Measured
    reading_per_g: Measured
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SixPositionFit:
    """Three axes: acceleration [g] = readings @ `matrix` + `offset_g`.

    `half_widths` holds the 95 % half-widths of the four rows (three of the matrix, one of the
    offset), shape (4, 3). `residual_g` is the root mean square of what the fit leaves.
    `angles_deg` are those between the sensor's axes: xy, yz, zx.
    """

    columns: tuple[str, ...]
    matrix: FloatArray
    offset_g: FloatArray
    half_widths: FloatArray
    residual_g: float
    angles_deg: tuple[float, float, float]
    warnings: tuple[str, ...]


def two_positions(
    up: RestReading, down: RestReading, settings: PlacementSettings | None = None
) -> TwoPositionFit:
    """Calibrate one axis from a recording with it up and one with it down.

    Parameters
    ----------
    up, down : RestReading
        The same column in both positions.
    settings : PlacementSettings, optional
        How well it was set down.

    Raises
    ------
    CalibrationError
        When the readings hardly differ.

    Notes
    -----
    zero reading = (up + down) / 2, reading per g = (up - down) / 2. A tilt can only shorten what
    the axis sees of gravity, by its cosine; the interval's outer end covers that (four tilts,
    chi-squared with four degrees of freedom).

    References
    ----------
    ISO 16063-16:2014, calibration by earth's gravity (method; text not seen). The tilt's part:
    derived here.
    """
    settings = settings or PlacementSettings()
    span = up.mean - down.mean
    noise = math.hypot(up.mean_error, down.mean_error) / 2
    if abs(span) < 20 * noise or span == 0:
        raise CalibrationError(
            f'column "{up.column}" reads the same up and down ({up.mean:.4g}, {down.mean:.4g});'
            " was the sensor turned over, and is this its axis?"
        )
    per_g = span / 2
    # (tilt_up^2 + tilt_down^2) / 4, each of two level axes: 9.488 is the 95 % point of four.
    shortened = 9.488 / 4 * math.radians(settings.tilt_deg) ** 2
    ends = (per_g, per_g * (1 + shortened))
    zero_half = NORMAL_97_5 * noise + abs(per_g) * shortened / 2
    return TwoPositionFit(
        column=up.column,
        zero_reading=around((up.mean + down.mean) / 2, zero_half),
        reading_per_g=Measured(
            value=per_g,
            low=min(ends) - NORMAL_97_5 * noise,
            high=max(ends) + NORMAL_97_5 * noise,
        ),
        warnings=_rest_warnings((up, down), abs(per_g), settings),
    )


def six_positions(
    readings: Mapping[str, Sequence[RestReading]], settings: PlacementSettings | None = None
) -> SixPositionFit:
    """Calibrate three axes, cross-axis sensitivity included, from six positions.

    Parameters
    ----------
    readings : mapping of str to sequence of RestReading
        For each of `POSITIONS`, the three columns in the same order.
    settings : PlacementSettings, optional
        How well the sensor was set down.

    Raises
    ------
    CalibrationError
        When a position is missing, or they do not determine the twelve numbers.

    Notes
    -----
    Least squares of [m 1] X = A with twelve unknowns. What is left over tells how far the positions
    were from square; the interval takes the stated tilt or that, whichever is larger. A box whose
    opposite faces are parallel but not square to the others leaves nothing over: it shows in the
    angles between the axes only.

    References
    ----------
    Twelve-parameter fit: ISO 16063-16:2014 (method; text not seen). Propagation of the tilt:
    derived here.
    """
    settings = settings or PlacementSettings()
    missing = [position for position in POSITIONS if position not in readings]
    if missing:
        raise CalibrationError(f"positions {', '.join(missing)} are missing; six are needed")
    measured = np.array([[each.mean for each in readings[place]] for place in POSITIONS])
    errors = np.array([[each.mean_error for each in readings[place]] for place in POSITIONS])
    wanted = np.repeat(np.eye(3), 2, axis=0) * np.array([1, -1] * 3)[:, None]
    design = np.column_stack((measured, np.ones(6)))
    scaled = design / np.maximum(np.abs(design).max(axis=0), 1e-300)
    if np.linalg.cond(scaled) > 1e3:
        raise CalibrationError(
            "the six recordings do not differ enough: are they the six positions, and are the"
            " columns the sensor's three axes?"
        )
    found = np.linalg.pinv(design) @ wanted
    left = wanted - design @ found
    per_g = float(np.abs(np.diff(measured.reshape(3, 2, 3), axis=1)).max() / 2)
    angles, handed = _axes(found[:3])
    everyone = [each for place in POSITIONS for each in readings[place]]
    return SixPositionFit(
        columns=tuple(each.column for each in readings[POSITIONS[0]]),
        matrix=found[:3],
        offset_g=found[3],
        half_widths=_half_widths(design, found, left, errors, settings),
        residual_g=float(np.sqrt(np.mean(left**2))),
        angles_deg=angles,
        warnings=(
            *_rest_warnings(everyone, per_g, settings),
            *_square_warnings(left, angles, handed, settings),
        ),
    )


def _half_widths(
    design: FloatArray,
    found: FloatArray,
    left: FloatArray,
    errors: FloatArray,
    settings: PlacementSettings,
) -> FloatArray:
    """Propagate tilt and noise of the readings to the twelve numbers."""
    tilt = math.radians(settings.tilt_deg)
    tilt = max(tilt, math.sqrt(float(np.sum(left**2)) / 6))  # 18 equations less 12 unknowns
    own_axis = np.repeat(np.eye(3, dtype=bool), 2, axis=0)
    wrong = np.where(own_axis, tilt**2, tilt) ** 2 + errors**2 @ found[:3] ** 2
    half_widths: FloatArray = NORMAL_97_5 * np.sqrt(np.linalg.pinv(design) ** 2 @ wrong)
    return half_widths


def _axes(matrix: FloatArray) -> tuple[tuple[float, float, float], float]:
    """Angles between the sensor's axes [deg], and their handedness (positive: right-handed)."""
    axes = np.linalg.inv(matrix).T
    axes = axes / np.linalg.norm(axes, axis=1, keepdims=True)
    pairs = ((0, 1), (1, 2), (2, 0))
    xy, yz, zx = (
        math.degrees(math.acos(float(np.clip(axes[i] @ axes[j], -1, 1)))) for i, j in pairs
    )
    return (xy, yz, zx), float(np.linalg.det(axes))


def _rest_warnings(
    readings: Sequence[RestReading], per_g: float, settings: PlacementSettings
) -> tuple[str, ...]:
    """Say which recordings were not at rest."""
    warnings = []
    for each in readings:
        spread_g, drift_g = each.spread / per_g, abs(each.drift) / per_g
        if spread_g > settings.rest_spread_g:
            warnings.append(
                f'{each.file}: "{each.column}" moves by {1000 * spread_g:.0f} mg: not at rest'
            )
        elif drift_g > settings.rest_drift_g:
            warnings.append(
                f'{each.file}: "{each.column}" drifts by {1000 * drift_g:.0f} mg: still warming up,'
                " or not at rest"
            )
    return tuple(warnings)


def _square_warnings(
    left: FloatArray, angles: Sequence[float], handed: float, settings: PlacementSettings
) -> tuple[str, ...]:
    """Say where the positions were not square."""
    warnings = []
    # One position askew by an angle leaves a third of it over in its own pair.
    worst_deg = math.degrees(3 * float(np.abs(left).max()))
    if worst_deg > settings.askew_deg:
        warnings.append(
            f"opposite positions disagree by some {worst_deg:.0f} deg: turn the sensor over"
            " exactly, against a square"
        )
    for name, angle in zip(("x and y", "y and z", "z and x"), angles, strict=True):
        if abs(angle - 90) > settings.square_deg:
            warnings.append(
                f"axes {name} come out {angle:.1f} deg apart: the positions were not square"
            )
    if handed < 0:
        warnings.append(
            "the axes come out left-handed: two positions or two columns may be exchanged"
        )
    return tuple(warnings)
