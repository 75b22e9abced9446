"""Wheels, dampers and levers: how corner quantities of an axle hang together."""

from __future__ import annotations

import numpy as np

from ridelog.car.description import Axle
from ridelog.recording import FloatArray


def damper_lever_matrix(axle: Axle) -> FloatArray:
    """Damper travel of (left, right) per wheel travel of (left, right), shape (2, 2).

    On an independent axle each wheel moves its own damper by the motion ratio. On a solid axle the
    dampers stand inboard of the wheels: both wheels together move them by the motion ratio, roll
    moves them by the motion ratio times damper spacing over track.

    Parameters
    ----------
    axle : Axle
        The axle; uses its motion ratio and roll lever ratio.

    References
    ----------
    Derived here: wheel travel = heave +- roll, damper travel = MR (heave +- r roll).
    """
    r = axle.roll_lever_ratio
    return axle.motion_ratio * np.array([[(1 + r) / 2, (1 - r) / 2], [(1 - r) / 2, (1 + r) / 2]])


def wheel_rate_n_per_m(axle: Axle) -> float:
    """Wheel rate per corner, both wheels together [N/m]: spring rate x motion ratio squared.

    References
    ----------
    Milliken & Milliken, Race Car Vehicle Dynamics, ch. 16 (virtual work of the spring).
    """
    return axle.spring_rate_n_per_m * axle.motion_ratio**2


def sprung_mass_per_corner_kg(axle: Axle) -> float:
    """Half of the axle's sprung mass [kg]."""
    return axle.sprung_mass_kg / 2
