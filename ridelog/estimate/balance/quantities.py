"""From fitted parameters to the contract's quantities, for whole batches of parameter vectors."""

from __future__ import annotations

import numpy as np

from ridelog.car.description import Axle
from ridelog.estimate.balance.basis import piece_values
from ridelog.estimate.balance.layout import Layout
from ridelog.recording import FloatArray

# The contract reads the damping ratio from the secant at this damper speed.
SECANT_SPEED_M_PER_S = 0.05
LISTED_SPEEDS_M_PER_S = (0.025, 0.05, 0.1, 0.2, 0.3)


def axle_quantities(
    parameters: FloatArray, layout: Layout, axle: Axle, number: int, motion_ratio: float
) -> dict[str, FloatArray]:
    """Quantities of one axle, each of shape (batch,).

    Parameters
    ----------
    parameters : ndarray
        Parameter vectors [mixed], shape (batch, parameters).
    layout : Layout
        Places of the parameters.
    axle : Axle
        Masses and tyre rate.
    number : int
        0 for front, 1 for rear.
    motion_ratio : float
        Motion ratio in use [-].

    Returns
    -------
    dict
        By the contract's names, units in the names; ``damping_ratio_left`` and ``_right`` beside.

    References
    ----------
    The project's contract, section "Definitions".
    """
    corners = (2 * number, 2 * number + 1)
    mass = axle.sprung_mass_kg / 2
    tyre = axle.tyre_rate_n_per_m
    if tyre is None:
        raise ValueError("fill in the tyre rate first")
    spring = np.mean([parameters[:, layout.spring(corner)] for corner in corners], axis=0)
    wheel = np.maximum(spring, 1.0) * motion_ratio**2
    ride = wheel * tyre / (wheel + tyre)
    critical = 2 * np.sqrt(wheel * mass)
    secants = [secant_n_s_per_m(parameters, layout, corner) for corner in corners]
    ratios = np.array([[motion_ratio**2 * side / critical for side in pair] for pair in secants])
    bump, rebound = ratios.mean(axis=0)
    friction = [parameters[:, layout.friction(corner)].sum(axis=1) for corner in corners]
    damping = (bump + rebound) / 2
    return {
        "spring_rate_n_per_m": spring,
        "wheel_rate_n_per_m": wheel,
        "body_frequency_hz": np.sqrt(ride / mass) / (2 * np.pi),
        "spring_frequency_hz": np.sqrt(wheel / mass) / (2 * np.pi),
        "damping_ratio": damping,
        "damping_ratio_bump": bump,
        "damping_ratio_rebound": rebound,
        "decay_damping_ratio": damping * (tyre / (wheel + tyre)) ** 1.5,
        "wheel_hop_hz": np.sqrt((wheel + tyre) / (axle.unsprung_mass_kg / 2)) / (2 * np.pi),
        "friction_n": np.mean(friction, axis=0),
        "damping_ratio_left": ratios[0].mean(axis=0),
        "damping_ratio_right": ratios[1].mean(axis=0),
    }


def side_difference(parameters: FloatArray, layout: Layout, number: int) -> FloatArray:
    """Left less right damping of an axle over their sum [-], shape (batch,).

    Parameters
    ----------
    parameters : ndarray
        Parameter vectors [mixed], shape (batch, parameters).
    layout : Layout
        Places of the parameters.
    number : int
        0 for front, 1 for rear.

    References
    ----------
    Derived here: the secants of the project's contract, bump and rebound together.
    """
    left, right = (
        np.maximum(sum(secant_n_s_per_m(parameters, layout, 2 * number + side)), 1.0)
        for side in (0, 1)
    )
    return np.asarray((left - right) / (left + right))


def secant_n_s_per_m(
    parameters: FloatArray, layout: Layout, corner: int
) -> tuple[FloatArray, FloatArray]:
    """Secant slopes of a damper in bump and in rebound [N s/m], shape (batch,) each.

    Parameters
    ----------
    parameters : ndarray
        Parameter vectors [mixed], shape (batch, parameters).
    layout : Layout
        Places of the parameters.
    corner : int
        0 to 3 for fl fr rl rr.
    """
    speed = SECANT_SPEED_M_PER_S
    values = piece_values(np.array([speed, -speed]), layout.basis)
    force = parameters[:, layout.pieces(corner)] @ values
    return force[:, 0] / speed, -force[:, 1] / speed


def corner_forces_n(
    parameters: FloatArray, layout: Layout, corner: int, speed_m_per_s: FloatArray
) -> FloatArray:
    """Damper force of one corner at given speeds [N], shape (batch, speeds).

    Parameters
    ----------
    parameters : ndarray
        Parameter vectors [mixed], shape (batch, parameters).
    layout : Layout
        Places of the parameters.
    corner : int
        0 to 3 for fl fr rl rr.
    speed_m_per_s : ndarray
        Damper speeds [m/s], shape (speeds,).
    """
    return np.asarray(
        parameters[:, layout.pieces(corner)] @ piece_values(speed_m_per_s, layout.basis)
    )
