"""Calibrate a travel sensor from points of (reading, length) measured with a caliper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ridelog.car.measured import Measured, around
from ridelog.errors import CalibrationError

CURVED_SHARE = 0.01
"""A pot strays up to 1 % of its stroke from a straight line (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelFit:
    """Points of (reading in the column's unit, travel [m]), rising readings first.

    `slope` is that of the best straight line [m per reading]; None where two points leave no
    scatter to judge it by. `linearity_best` and `linearity_ends` are the largest distance from the
    best line and from that through the end points, as shares of the span. Where `curved`, the
    points themselves are the calibration, else the line's two ends.
    """

    points: tuple[tuple[float, float], ...]
    slope: Measured | None
    linearity_best: float
    linearity_ends: float
    curved: bool

    @property
    def calibration(self) -> tuple[tuple[float, float], ...]:
        """The points to write into a car file."""
        if self.curved or len(self.points) == 2:
            return self.points
        readings = np.array([reading for reading, _ in self.points])
        line = np.polyfit(readings, [travel for _, travel in self.points], 1)
        ends = (readings[0], readings[-1])
        return tuple((float(end), float(np.polyval(line, end))) for end in ends)


def fit_travel(points: Sequence[tuple[float, float]]) -> TravelFit:
    """Judge calibration points of a travel sensor.

    Parameters
    ----------
    points : sequence of (float, float)
        Reading in the column's unit and travel, positive in bump [m], in any order.

    Returns
    -------
    TravelFit
        Straight where no point strays more than 1 % of the span from the best line, else curved.

    Raises
    ------
    CalibrationError
        When there are fewer than two points, readings alike, or the sensor turns back.

    References
    ----------
    Independent and terminal-based linearity as makers of potentiometers define them.
    """
    ordered = tuple(sorted((float(reading), float(travel)) for reading, travel in points))
    if len(ordered) < 2:
        raise CalibrationError("needs two or more points of reading and length")
    readings, travels = (np.array(column) for column in zip(*ordered, strict=True))
    steps, rises = np.diff(readings), np.diff(travels)
    if np.any(steps <= 0):
        raise CalibrationError("two points have the same reading; measure one again")
    if not (np.all(rises > 0) or np.all(rises < 0)):
        raise CalibrationError(
            "the lengths rise and fall again with rising reading; a sensor goes one way, check them"
        )
    best = np.polyfit(readings, travels, 1)
    ends = np.interp(readings, readings[[0, -1]], travels[[0, -1]])
    span = abs(travels[-1] - travels[0])
    strays = np.abs(travels - np.polyval(best, readings))
    linearity = float(strays.max() / span) if len(ordered) > 2 else 0.0
    return TravelFit(
        points=ordered,
        slope=_slope(readings, travels, best),
        linearity_best=linearity,
        linearity_ends=float(np.abs(travels - ends).max() / span),
        curved=linearity > CURVED_SHARE,
    )


def with_zero_at(fit: TravelFit, reading: float) -> TravelFit:
    """Move all travels so that a reading at ride height is zero.

    Parameters
    ----------
    fit : TravelFit
        The calibration.
    reading : float
        What the sensor reads at ride height, in the column's unit.

    Raises
    ------
    CalibrationError
        When the reading lies outside the points.
    """
    readings = [each for each, _ in fit.calibration]
    if not readings[0] <= reading <= readings[-1]:
        raise CalibrationError(
            f"the reading at ride height, {reading:.5g}, lies outside the points"
            f" ({readings[0]:.5g} to {readings[-1]:.5g}); measure points on both sides of it"
        )
    zero = float(np.interp(reading, readings, [travel for _, travel in fit.calibration]))
    return replace(fit, points=tuple((each, travel - zero) for each, travel in fit.points))


def _slope(readings: np.ndarray, travels: np.ndarray, best: np.ndarray) -> Measured | None:
    """Slope of the best line with its interval by Student's t."""
    freedom = len(readings) - 2
    if freedom < 1:
        return None
    from scipy.special import stdtrit

    residual = travels - np.polyval(best, readings)
    scatter = np.sqrt(residual @ residual / freedom)
    spread = scatter / np.sqrt(np.sum((readings - readings.mean()) ** 2))
    return around(float(best[0]), float(stdtrit(freedom, 0.975) * spread))
