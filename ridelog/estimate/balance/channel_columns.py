"""How the residual of the balance moves when a channel's gain or delay is corrected."""

from __future__ import annotations

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.layout import (
    BODY_DELAY,
    BODY_GAIN,
    DAMPER_LAG,
    HUB_DELAY,
    HUB_GAIN,
    TRAVEL_DELAY,
    Layout,
)
from ridelog.estimate.balance.lever import lever_matrix_of_car
from ridelog.estimate.balance.rows import BlockRows, gated_band
from ridelog.estimate.balance.transform import ComplexArray
from ridelog.recording import FloatArray


def channel_columns(
    block: BlockRows,
    car: Car,
    layout: Layout,
    parameters: FloatArray,
    damper_weights: FloatArray,
    sensor_weights: FloatArray,
) -> ComplexArray:
    """Design columns of all open channel corrections, shape (4 groups, 3, f).

    Parameters
    ----------
    block : BlockRows
        One stretch of log.
    car : Car
        Motion ratios and spacings.
    layout : Layout
        Open groups.
    parameters : ndarray
        Current mechanical parameters, mixed units, shape (parameters,).
    damper_weights, sensor_weights : ndarray
        `corner_weights` and `body_weights` [mixed], shape (3, 4).

    Notes
    -----
    A column is minus the change of (body side - force side) per unit of the correction. Gains of
    body sensors count relative to their mean: shrinking all of them together would shrink the
    residual without explaining anything.
    """
    bins = block.columns.shape[2]
    columns = np.zeros((4 * len(layout.groups), 3, bins), complex)
    inertial = None
    if HUB_DELAY in layout.groups:
        inertial = _inertial_force_changes(block, car, layout, parameters)
    for position, name in enumerate(layout.groups):
        target = columns[4 * position : 4 * position + 4]
        if name in (TRAVEL_DELAY, DAMPER_LAG):
            change = _late_forces(block, layout, parameters, springs=name == TRAVEL_DELAY)
            sooner = 1.0 if name == TRAVEL_DELAY else -1.0
            target += sooner * damper_weights.T[:, :, None] * change[:, None]
        if name == BODY_DELAY:
            target -= np.einsum("rc,cf->crf", sensor_weights, block.body_rate)
        if name == BODY_GAIN:
            own = np.einsum("rc,cf->crf", sensor_weights, block.body)
            target -= own - own.mean(axis=0)
        if inertial is not None and name in inertial:
            target += np.einsum("rd,cdf->crf", damper_weights, inertial[name])
    return columns


def _late_forces(
    block: BlockRows, layout: Layout, parameters: FloatArray, *, springs: bool
) -> ComplexArray:
    """Rate of every corner's force, that of the spring included or not, shape (4, f)."""
    first = 0 if springs else 1
    forces = [
        parameters[layout.corner(corner)][first:] @ block.columns[corner, first:]
        for corner in range(4)
    ]
    return np.asarray(1j * block.angular_rad_per_s * np.array(forces))


def _inertial_force_changes(
    block: BlockRows, car: Car, layout: Layout, parameters: FloatArray
) -> dict[str, ComplexArray]:
    """Change of every damper's force per unit of hub and body corrections, (4, 4, f) each."""
    motion = block.motion
    transform = motion.transform
    stiffness, slope = _local_rates(block, layout, parameters)
    lever = lever_matrix_of_car(car)
    omega = transform.angular_rad_per_s
    bins = block.columns.shape[2]
    changes: dict[str, ComplexArray] = {}
    sources = {"hub": motion.hub_share, "body": motion.body_share}
    for kind, gain_name, delay_name in (
        ("hub", HUB_GAIN, HUB_DELAY),
        ("body", BODY_GAIN, BODY_DELAY),
    ):
        share = sources[kind]
        if share is None:
            continue
        for name, factor in ((gain_name, np.ones_like(omega)), (delay_name, 1j * omega)):
            result = np.zeros((4, 4, bins), complex)
            for sensor in range(4):
                travel = transform.inverse(share[sensor] * factor)
                rate = transform.inverse(1j * omega * share[sensor] * factor)
                for damper in np.flatnonzero(lever[:, sensor]):
                    force = lever[damper, sensor] * (
                        stiffness[damper] * travel + slope[damper] * rate
                    )
                    result[sensor, damper] = gated_band(force, block.gate, transform, block.band)
            changes[name] = result
    return changes


def _local_rates(
    block: BlockRows, layout: Layout, parameters: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Spring rate (4,) and slope of damper and friction over speed at each instant (4, n)."""
    basis = layout.basis
    speed = block.motion.speed_m_per_s()
    nodes = np.array(basis.node_speeds_m_per_s)
    stiffness = np.array([parameters[layout.spring(corner)] for corner in range(4)])
    slope = np.empty_like(speed)
    for corner in range(4):
        bump = parameters[layout.bump(corner)]
        rebound = parameters[layout.rebound(corner)]
        piece = np.searchsorted(nodes, np.abs(speed[corner]), side="right") - 1
        slope[corner] = np.where(speed[corner] >= 0, bump[piece], rebound[piece])
        noise = block.motion.speed_noise_m_per_s[corner]
        for force, width in zip(
            parameters[layout.friction(corner)], basis.friction_widths_m_per_s, strict=True
        ):
            wide = float(np.hypot(width, noise))
            density = np.exp(-0.5 * (speed[corner] / wide) ** 2) / wide
            slope[corner] += force * np.sqrt(2 / np.pi) * density
    return stiffness, slope
