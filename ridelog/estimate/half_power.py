"""Half-power width: damping from how broad a resonance is."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, pi, sin, sqrt

import numpy as np

from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.recording import FloatArray

#: Above sin(22.5 deg) the response at 0 Hz is itself above peak / sqrt 2: no lower point exists.
HIGHEST_DAMPING_RATIO = sin(pi / 8)


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfPower:
    """Damping read off the width of a resonance.

    `width_damping_ratio` is the usual width / (2 peak frequency), which reads high (by 26 % at a
    damping ratio of 0.3); `damping_ratio` and `natural_frequency_hz` undo that for a single mass
    driven by a force and seen in displacement.
    """

    peak_frequency_hz: float
    lower_frequency_hz: float
    upper_frequency_hz: float
    width_damping_ratio: float
    damping_ratio: float
    natural_frequency_hz: float


def half_power(frequency_hz: FloatArray, amplitude: FloatArray) -> HalfPower:
    """Damping from the width of a resonance at peak amplitude / sqrt 2.

    Parameters
    ----------
    frequency_hz : FloatArray
        Rising frequencies [Hz], shape (n,).
    amplitude : FloatArray
        Displacement amplitude per force at each frequency, any unit [-], shape (n,); of a power
        spectral density take the square root.

    Returns
    -------
    HalfPower
        Peak, half-power points, damping ratio.

    Raises
    ------
    NotEnoughDataError
        If there are fewer than five frequencies.
    SignalError
        If the peak lies at the edge, or a half-power point is missing, as always above a damping
        ratio of 0.383.

    Notes
    -----
    The peak is the top of a parabola through the three highest neighbours, the half-power points
    are interpolated. Squares of the half-power frequencies are
    fn^2 (1 - 2 z^2 -+ 2 z sqrt(1 - z^2)) and the peak's is fn^2 (1 - 2 z^2), which with z = sin t
    gives tan 2t = (f2^2 - f1^2) / (2 fp^2).
    Holds for one mass; two masses or a road that is not white bias it. A spectrum's resolution
    must be a small part of the width.

    References
    ----------
    W. T. Thomson, Theory of Vibration with Applications, section 3.10 (width); exact inversion
    derived here.
    """
    f = np.asarray(frequency_hz, dtype=np.float64)
    a = np.asarray(amplitude, dtype=np.float64)
    if len(f) < 5:
        raise NotEnoughDataError("half-power width", needed=5, found=len(f), unit="frequencies")
    top = int(np.argmax(a))
    if top in (0, len(f) - 1):
        raise SignalError("half-power width: the peak lies at the edge of the frequencies given")
    peak_hz, peak = _parabola_top(f[top - 1 : top + 2], a[top - 1 : top + 2])
    level = peak / sqrt(2)
    below, above = np.flatnonzero(a[:top] < level), np.flatnonzero(a[top:] < level)
    if not len(below) or not len(above):
        raise SignalError(
            "half-power width: the amplitude does not fall to 0.707 of the peak on both sides; "
            f"above a damping ratio of {HIGHEST_DAMPING_RATIO:.3f} it never does, "
            "so use a free decay or a force balance instead"
        )
    lower_hz = _crossing(f, a, int(below[-1]), level)
    upper_hz = _crossing(f, a, top + int(above[0]) - 1, level)
    angle = atan((upper_hz**2 - lower_hz**2) / (2 * peak_hz**2)) / 2
    ratio = sin(angle)
    return HalfPower(
        peak_frequency_hz=peak_hz,
        lower_frequency_hz=lower_hz,
        upper_frequency_hz=upper_hz,
        width_damping_ratio=(upper_hz - lower_hz) / (2 * peak_hz),
        damping_ratio=ratio,
        natural_frequency_hz=peak_hz / sqrt(1 - 2 * ratio**2),
    )


def _parabola_top(f: FloatArray, a: FloatArray) -> tuple[float, float]:
    """Frequency [Hz] and height of the parabola through three points."""
    square, slope, height = np.polyfit(f - f[1], a, 2)
    shift = -slope / (2 * square)
    return float(f[1] + shift), float(height + slope * shift / 2)


def _crossing(f: FloatArray, a: FloatArray, left: int, level: float) -> float:
    """Frequency [Hz] at which the line from `left` to its right neighbour meets the level."""
    part = (level - a[left]) / (a[left + 1] - a[left])
    return float(f[left] + part * (f[left + 1] - f[left]))
