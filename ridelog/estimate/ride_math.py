"""Ride relations: rates, frequencies and the spring for a wanted frequency."""

from __future__ import annotations

from math import pi, sqrt

from ridelog.errors import SignalError
from ridelog.recording import STANDARD_GRAVITY_M_PER_S2


def wheel_rate(spring_rate: float, motion_ratio: float) -> float:
    """Rate of the spring felt at the wheel [N/m].

    Parameters
    ----------
    spring_rate : float
        Spring rate [N/m].
    motion_ratio : float
        Spring travel per wheel travel [ratio].

    Notes
    -----
    The change of motion ratio with travel under preload is left out.

    References
    ----------
    D. Barton and J. Fieldhouse, Automotive Chassis Engineering (2018), p. 179.
    """
    return spring_rate * motion_ratio**2


def ride_rate(wheel_rate: float, tyre_rate: float) -> float:
    """Rate of spring and tyre in series, what the body rides on [N/m].

    Parameters
    ----------
    wheel_rate : float
        Wheel rate [N/m].
    tyre_rate : float
        Tyre rate [N/m].

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics (1992), ch. 5.
    """
    return wheel_rate * tyre_rate / (wheel_rate + tyre_rate)


def natural_frequency(rate: float, mass: float) -> float:
    """Undamped frequency of a mass on a spring [Hz].

    Parameters
    ----------
    rate : float
        Rate [N/m].
    mass : float
        Mass [kg].

    References
    ----------
    W. T. Thomson, Theory of Vibration with Applications, section 2.2.
    """
    return sqrt(rate / mass) / (2 * pi)


def frequency_from_deflection(static_deflection: float) -> float:
    """Undamped frequency of a mass that sinks so far on its linear spring [Hz].

    Parameters
    ----------
    static_deflection : float
        Deflection of the spring under the mass's weight [m].

    References
    ----------
    W. T. Thomson, Theory of Vibration with Applications, section 2.2.
    """
    return sqrt(STANDARD_GRAVITY_M_PER_S2 / static_deflection) / (2 * pi)


def spring_rate_for_frequency(
    frequency_hz: float, sprung_mass: float, motion_ratio: float, tyre_rate: float
) -> float:
    """Spring rate that gives a corner its wanted body frequency on its tyre [N/m].

    Parameters
    ----------
    frequency_hz : float
        Wanted undamped body frequency [Hz].
    sprung_mass : float
        Sprung mass of the corner [kg].
    motion_ratio : float
        Spring travel per wheel travel [ratio].
    tyre_rate : float
        Tyre rate [N/m].

    Raises
    ------
    SignalError
        If the tyre alone is too soft for that frequency.

    References
    ----------
    W. F. Milliken and D. L. Milliken, Race Car Vehicle Dynamics (1995), ch. 16.
    """
    wanted = sprung_mass * (2 * pi * frequency_hz) ** 2
    if wanted >= tyre_rate:
        raise SignalError(
            f"spring: {frequency_hz:.3g} Hz needs a ride rate of {wanted / 1e3:.3g} N/mm, but the "
            f"tyre alone has {tyre_rate / 1e3:.3g} N/mm; choose a lower frequency"
        )
    return wanted * tyre_rate / (tyre_rate - wanted) / motion_ratio**2


def damper_rate_for_ratio(
    damping_ratio: float, rate: float, sprung_mass: float, motion_ratio: float
) -> float:
    """Damping coefficient at the damper that gives a damping ratio [N s/m].

    Parameters
    ----------
    damping_ratio : float
        Wanted damping ratio [ratio].
    rate : float
        Wheel rate or ride rate the ratio refers to [N/m].
    sprung_mass : float
        Sprung mass of the corner [kg].
    motion_ratio : float
        Damper travel per wheel travel [ratio].

    References
    ----------
    W. T. Thomson, Theory of Vibration with Applications, section 2.6, with the lever squared
    (virtual work).
    """
    return 2 * damping_ratio * sqrt(rate * sprung_mass) / motion_ratio**2
