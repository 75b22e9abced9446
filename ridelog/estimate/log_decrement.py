"""Logarithmic decrement: damping from how fast the swings of a decay shrink."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Decrement:
    """Damping read off successive peaks.

    `decrement_per_cycle` is the natural logarithm of the ratio of peaks one cycle apart.
    `curvature` is the change of the logarithm's slope from one peak to the next: clearly negative
    with dry friction, which makes late swings shrink faster; then the damping ratio is too high.
    """

    decrement_per_cycle: float
    damping_ratio: float
    curvature: float
    peaks_used: int


def damping_ratio_from_decrement(decrement_per_cycle: float) -> float:
    """Damping ratio of a single mass from its decrement per cycle.

    Parameters
    ----------
    decrement_per_cycle : float
        Natural logarithm of the ratio of peaks one cycle apart [-].

    References
    ----------
    W. T. Thomson, Theory of Vibration with Applications, section 2.7.
    """
    return decrement_per_cycle / sqrt(4 * pi**2 + decrement_per_cycle**2)


def log_decrement(peaks: FloatArray, *, half_cycles: bool) -> Decrement:
    """Damping from the peaks of one free decay.

    Parameters
    ----------
    peaks : FloatArray
        Heights of successive peaks from the resting position, any unit [-], shape (n,). One per
        cycle, all of one sign; or with `half_cycles` both sides in turn, signs alternating.
    half_cycles : bool
        Whether the peaks are half a cycle apart.

    Returns
    -------
    Decrement
        Decrement per cycle, damping ratio and a sign of dry friction.

    Raises
    ------
    NotEnoughDataError
        If there are fewer than two peaks.
    SignalError
        If the signs do not fit, or the peaks do not shrink.

    Notes
    -----
    Straight line through the logarithms. Exact for one mass with a linear damper let go at rest or
    in motion; for a car on its tyres it gives the decay's ratio, which is less than the damper's.
    The first overshoot after a drop off a kerb is not a peak of the free decay alone.

    References
    ----------
    W. T. Thomson, Theory of Vibration with Applications, section 2.7.
    """
    values = np.asarray(peaks, dtype=np.float64)
    if len(values) < 2:
        raise NotEnoughDataError("logarithmic decrement", needed=2, found=len(values), unit="peaks")
    signs = np.sign(values)
    expected = signs[0] * (-1.0) ** np.arange(len(values)) if half_cycles else signs[0]
    if signs[0] == 0 or np.any(signs != expected):
        pattern = "alternate in sign" if half_cycles else "all have one sign"
        raise SignalError(f"logarithmic decrement: peaks must {pattern}")
    logs = np.log(np.abs(values))
    if np.any(np.diff(logs) >= 0):
        raise SignalError("logarithmic decrement: the peaks do not shrink; this is no free decay")
    number = np.arange(len(logs))
    slope = float(np.polyfit(number, logs, 1)[0])
    curvature = float(np.mean(np.diff(logs, n=2))) if len(logs) > 2 else 0.0
    per_cycle = -slope * (2 if half_cycles else 1)
    return Decrement(
        decrement_per_cycle=per_cycle,
        damping_ratio=damping_ratio_from_decrement(per_cycle),
        curvature=curvature,
        peaks_used=len(values),
    )
