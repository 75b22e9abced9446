"""Dry friction told from viscous damping by the turning points of a decay."""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi, sqrt

import numpy as np

from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class FrictionSplit:
    """Viscous and dry part of a decay.

    `friction_displacement` is friction force over stiffness, in the unit of the turning points:
    the band in which the mass may come to rest. Times the stiffness it is the friction force.
    """

    damping_ratio: float
    friction_displacement: float
    swings_used: int


def split_friction(turning_points: FloatArray) -> FrictionSplit:
    """Viscous damping ratio and dry friction from the turning points of one free decay.

    Parameters
    ----------
    turning_points : FloatArray
        Successive highest and lowest positions [m, or any unit of length], shape (n,), four or
        more. The resting position need not be known.

    Returns
    -------
    FrictionSplit
        Damping ratio of the viscous part, friction force over stiffness.

    Raises
    ------
    NotEnoughDataError
        If there are fewer than four turning points.
    SignalError
        If they do not alternate, do not shrink, or shrink in a way that no viscous damping with
        dry friction allows.

    Notes
    -----
    With s = exp(-pi z / sqrt(1 - z^2)) and xf = F / k each swing from one turning point to the next
    follows from the one before: D' = s D - 2 xf (1 + s). A line through (D, D') gives both. Holds
    for one mass, a linear spring and friction of one size whatever the speed. A mass that has come
    to rest swings no more, so leave out what the sensor shows after that.

    References
    ----------
    B. F. Feeny and J. W. Liang, A decrement method for the simultaneous estimation of Coulomb and
    viscous friction, J. Sound Vib. 195(1), 149-154, 1996; swings instead of peaks derived here.
    """
    points = np.asarray(turning_points, dtype=np.float64)
    if len(points) < 4:
        raise NotEnoughDataError(
            "friction split", needed=4, found=len(points), unit="turning points"
        )
    steps = np.diff(points)
    swings = np.abs(steps)
    if np.any(steps[1:] * steps[:-1] >= 0):
        raise SignalError("friction split: turning points must be highs and lows in turn")
    if np.any(np.diff(swings) >= 0):
        raise SignalError("friction split: the swings do not shrink; this is no free decay")
    ratio, shift = _line(swings[:-1], swings[1:])
    friction = -shift / (2 * (1 + ratio))
    if not 0 < ratio <= 1 + _ROUNDING or friction < -_ROUNDING * swings[0]:
        raise SignalError(
            "friction split: the swings shrink in a way that viscous damping with dry friction "
            f"cannot cause (ratio {ratio:.3g}, friction {friction:.3g})"
        )
    exponent = -log(min(ratio, 1.0)) / pi
    return FrictionSplit(
        damping_ratio=exponent / sqrt(1 + exponent**2),
        friction_displacement=max(friction, 0.0),
        swings_used=len(swings),
    )


#: Room for rounding of turning points that were typed in with four digits.
_ROUNDING = 1e-3


def _line(x: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Slope and value at zero of the least-squares line."""
    slope, shift = np.polyfit(x, y, 1)
    return float(slope), float(shift)
