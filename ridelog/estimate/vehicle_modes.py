"""Natural modes of a quarter car and of a half car."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One natural mode.

    `frequency_hz` is the pole's distance from zero / 2 pi, `damped_frequency_hz` what a decay
    swings at.
    """

    frequency_hz: float
    damped_frequency_hz: float
    damping_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class QuarterCarModes:
    """Body mode and wheel hop of one corner."""

    body: Mode
    wheel_hop: Mode


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfCarModes:
    """Two modes of the body on front and rear springs, the slower first.

    The nodes lie ahead (+) or behind (-) of the centre of gravity [m]: the point of the body that
    stands still in that mode.
    """

    slow_hz: float
    fast_hz: float
    slow_node_m: float
    fast_node_m: float


def quarter_car_modes(
    sprung_mass: float,
    unsprung_mass: float,
    wheel_rate: float,
    tyre_rate: float,
    wheel_damping: float = 0.0,
) -> QuarterCarModes:
    """Body mode and wheel hop of one corner on its tyre.

    Parameters
    ----------
    sprung_mass, unsprung_mass : float
        Masses of the corner [kg].
    wheel_rate, tyre_rate : float
        Rates [N/m].
    wheel_damping : float
        Damping coefficient at the wheel [N s/m].

    Raises
    ------
    ValueError
        If a mode does not swing because it is damped beyond critical.

    Notes
    -----
    Linear springs and damper, tyre without damping.

    References
    ----------
    D. Barton and J. Fieldhouse, Automotive Chassis Engineering (2018), p. 209.
    """
    ms, mu, k, c = sprung_mass, unsprung_mass, wheel_rate, wheel_damping
    system = np.array(
        [
            [0.0, 1.0, 0.0, 0.0],
            [-k / ms, -c / ms, k / ms, c / ms],
            [0.0, 0.0, 0.0, 1.0],
            [k / mu, c / mu, -(k + tyre_rate) / mu, -c / mu],
        ]
    )
    poles = np.linalg.eigvals(system)
    upper = sorted(poles[poles.imag > 0], key=abs)
    if len(upper) != 2:
        raise ValueError("a mode of the corner is damped beyond critical and does not swing")
    return QuarterCarModes(body=_mode(complex(upper[0])), wheel_hop=_mode(complex(upper[1])))


def half_car_modes(
    mass: float,
    radius_of_gyration: float,
    front_arm: float,
    rear_arm: float,
    front_rate: float,
    rear_rate: float,
) -> HalfCarModes:
    """Bounce and pitch of the body on its front and rear springs.

    Parameters
    ----------
    mass : float
        Sprung mass [kg].
    radius_of_gyration : float
        Radius of gyration in pitch [m].
    front_arm, rear_arm : float
        Distance of the axles from the centre of gravity [m], both positive.
    front_rate, rear_rate : float
        Ride rate of the whole axle [N/m].

    Notes
    -----
    Undamped, wheels without mass. Positions forward of the centre of gravity count positive.

    References
    ----------
    W. T. Thomson, Theory of Vibration with Applications, section 5.3.
    """
    coupling = (front_rate * front_arm - rear_rate * rear_arm) / mass
    pitch_rate = front_rate * front_arm**2 + rear_rate * rear_arm**2
    # state: heave and (radius x pitch), which makes the matrix symmetric
    scaled = coupling / radius_of_gyration
    matrix = np.array(
        [
            [(front_rate + rear_rate) / mass, scaled],
            [scaled, pitch_rate / mass / radius_of_gyration**2],
        ]
    )
    squares, shapes = np.linalg.eigh(matrix)
    # height at x ahead of the centre of gravity = heave + x pitch, zero at the node
    with np.errstate(divide="ignore"):
        nodes = -shapes[0] * radius_of_gyration / shapes[1]
    slow, fast = np.sqrt(squares) / (2 * pi)
    return HalfCarModes(
        slow_hz=float(slow),
        fast_hz=float(fast),
        slow_node_m=float(nodes[0]),
        fast_node_m=float(nodes[1]),
    )


def _mode(pole: complex) -> Mode:
    return Mode(
        frequency_hz=abs(pole) / (2 * pi),
        damped_frequency_hz=pole.imag / (2 * pi),
        damping_ratio=-pole.real / abs(pole),
    )
