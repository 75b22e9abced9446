"""How far and how fast a damper moves over one hump, by a quarter car."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Axle
from ridelog.car.geometry import sprung_mass_per_corner_kg, wheel_rate_n_per_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Hump:
    """A rounded hump across the road; the usual traffic hump (from memory) where left out."""

    length_m: float = 3.7
    height_m: float = 0.075


@dataclass(frozen=True, slots=True, kw_only=True)
class HumpAnswer:
    """Deepest bump and droop travel [m] and fastest damper speed [m/s], all positive."""

    bump_m: float
    droop_m: float
    speed_m_per_s: float


def hump_answer(
    axle: Axle,
    damping_ratio: float,
    tyre_rate_n_per_m: float,
    speed_m_per_s: float,
    hump: Hump | None = None,
) -> HumpAnswer:
    """Damper travel and speed of one corner over a hump at a steady speed.

    Parameters
    ----------
    axle : Axle
        Masses, spring, motion ratio.
    damping_ratio : float
        Of the corner, by the project's definition [-].
    tyre_rate_n_per_m : float
        Tyre rate [N/m].
    speed_m_per_s : float
        Speed over the hump [m/s].
    hump : Hump, optional
        Its shape, a full cosine wave lifted to start and end level.

    Notes
    -----
    Linear quarter car, so without friction, stops or a lifting wheel: the real damper moves a
    little less. The other end of the car is taken to stay put.

    References
    ----------
    Quarter car: T. D. Gillespie, Fundamentals of Vehicle Dynamics (1992), ch. 5.
    """
    hump = hump or Hump()
    mass, wheel = sprung_mass_per_corner_kg(axle), wheel_rate_n_per_m(axle)
    hub = axle.unsprung_mass_kg / 2
    damping = 2 * damping_ratio * np.sqrt(wheel * mass)
    # Long enough for the car to come to rest again, fine enough for wheel hop.
    step, count = 0.002, 8192
    time = step * np.arange(count)
    phase = np.clip(speed_m_per_s * time / hump.length_m, 0.0, 1.0)
    road = hump.height_m / 2 * (1 - np.cos(2 * np.pi * phase))
    s = 2j * np.pi * np.fft.rfftfreq(count, step)
    spring = wheel + damping * s
    body_per_wheel = spring / (mass * s**2 + spring)
    per_road = tyre_rate_n_per_m / (hub * s**2 + tyre_rate_n_per_m + spring * (1 - body_per_wheel))
    travel = np.fft.rfft(road) * per_road * (1 - body_per_wheel) * axle.motion_ratio
    moved = np.fft.irfft(travel, count)
    moving = np.fft.irfft(travel * s, count)
    return HumpAnswer(
        bump_m=float(moved.max()),
        droop_m=float(-moved.min()),
        speed_m_per_s=float(np.abs(moving).max()),
    )
