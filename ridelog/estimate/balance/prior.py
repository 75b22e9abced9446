"""What is believed before the log is read: little, and written down here."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.estimate.balance.damper_shapes import (
    DIGRESSIVE,
    DamperShape,
    ShapeSettings,
    shape_rows,
)
from ridelog.estimate.balance.layout import (
    BODY_DELAY,
    BODY_GAIN,
    DAMPER_LAG,
    HUB_DELAY,
    HUB_GAIN,
    TRAVEL_DELAY,
    Layout,
)
from ridelog.estimate.balance.quantities import secant_n_s_per_m
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class PriorSettings:
    """Standard deviations, relative to critical damping or the stated spring where so named.

    The stated spring rate serves as a scale only: it may be wrong by any factor below ten.
    """

    shapes: ShapeSettings = field(default_factory=ShapeSettings)
    usual_damping_ratio: float = 0.3  # scale of the slopes before the log is read
    least_damping_ratio: float = 0.03
    slope_ratio: float = 5.0
    spring_pair_ratio: float = 0.01  # a pair of springs from one maker
    damper_pair_ratio: float = 0.02  # a healthy pair of dampers
    tired_pair_ratio: float = 0.5  # a pair of which one may be tired
    friction_n: float = 200.0
    friction_pair_n: float = 15.0
    dynamic_index: float = 0.3
    common_delay_s: float = 0.003  # an unknown anti-alias filter delays all accelerometers
    common_gain: float = 1e-5
    damper_lag_s: float = 0.001  # soft top mounts reach some milliseconds, common practice


def critical_damping_n_s_per_m(axle: Axle) -> float:
    """Critical damping seen at the damper of the stated spring [N s/m], as a scale.

    Parameters
    ----------
    axle : Axle
        Spring rate, motion ratio and sprung mass.

    References
    ----------
    2 sqrt(K m), any vibration text.
    """
    wheel_rate = axle.spring_rate_n_per_m * axle.motion_ratio**2
    return float(2 * np.sqrt(wheel_rate * axle.sprung_mass_kg / 2) / axle.motion_ratio**2)


def slope_scales_n_s_per_m(
    car: Car, layout: Layout, settings: PriorSettings, parameters: FloatArray | None
) -> FloatArray:
    """Slope of each axle's dampers in bump and rebound, by which curves may bend, shape (2, 2).

    Parameters
    ----------
    car : Car
        Scales.
    layout : Layout
        Places of the parameters.
    settings : PriorSettings
        Damping ratio where nothing is known, and the least that is believed.
    parameters : ndarray or None
        Parameters found [mixed], shape (parameters,); None before the log is read.
    """
    critical = np.array([critical_damping_n_s_per_m(axle) for axle in (car.front, car.rear)])
    if parameters is None:
        return np.repeat(settings.usual_damping_ratio * critical[:, None], 2, axis=1)
    secants = np.array([secant_n_s_per_m(parameters[None], layout, corner) for corner in range(4)])
    by_axle = secants[..., 0].reshape(2, 2, 2).mean(axis=1)
    return np.asarray(np.maximum(by_axle, settings.least_damping_ratio * critical[:, None]))


def mechanical_prior(
    car: Car,
    layout: Layout,
    settings: PriorSettings,
    *,
    one_side_may_be_tired: bool,
    parameters: FloatArray | None = None,
    shapes: tuple[DamperShape, DamperShape] = (DIGRESSIVE, DIGRESSIVE),
) -> tuple[FloatArray, FloatArray]:
    """Precision matrix and precision times mean of all parameters.

    Parameters
    ----------
    car : Car
        Scales.
    layout : Layout
        Places of the parameters.
    settings : PriorSettings
        Standard deviations.
    one_side_may_be_tired : bool
        Whether left and right dampers may differ much.
    parameters : ndarray, optional
        Parameters found [mixed], shape (parameters,), for the scale of the dampers' slopes.
    shapes : tuple of DamperShape
        What the dampers are held to be, front and rear.
    """
    rows: list[FloatArray] = []
    pair_ratio = settings.tired_pair_ratio if one_side_may_be_tired else settings.damper_pair_ratio
    slopes = slope_scales_n_s_per_m(car, layout, settings, parameters)
    unit = np.eye(layout.count)
    for number, axle in enumerate((car.front, car.rear)):
        left, right = 2 * number, 2 * number + 1
        critical = critical_damping_n_s_per_m(axle)
        stated = axle.spring_rate_n_per_m
        # A soft damper's curve bends by as large a share of its slope as a hard one's.
        bends = shape_rows(shapes[number], layout.basis.node_speeds_m_per_s, settings.shapes)
        spring_left, spring_right = (
            unit[layout.spring(left)],
            unit[layout.spring(right)],
        )
        rows.append((spring_left - spring_right) / (settings.spring_pair_ratio * stated))
        for corner in (left, right):
            rows.append(unit[layout.spring(corner)] / (10 * stated))
            for side, slope in zip(
                (layout.bump(corner), layout.rebound(corner)),
                slopes[number],
                strict=True,
            ):
                rows.append(bends @ unit[side] / slope)
                rows.append(unit[side] / (settings.slope_ratio * critical))
            rows.append(unit[layout.friction(corner)] / settings.friction_n)
        pieces = unit[layout.pieces(left)] - unit[layout.pieces(right)]
        rows.append(pieces / (pair_ratio * critical))
        frictions = unit[layout.friction(left)] - unit[layout.friction(right)]
        rows.append(frictions / settings.friction_pair_n)
        rows.append(unit[layout.bar(number)] / (10 * stated))
    rows.append(unit[layout.roll_inertia] / (car.sprung_mass_kg * car.front.track_m**2))
    stacked = np.vstack(rows)
    precision = stacked.T @ stacked
    weighted_mean = np.zeros(layout.count)
    weight = 1 / settings.dynamic_index**2
    precision[layout.dynamic_index, layout.dynamic_index] += weight
    weighted_mean[layout.dynamic_index] += weight * 1.0
    return precision, weighted_mean


def channel_precision(
    car: Car, layout: Layout, settings: PriorSettings, body_delay_covariance_s2: FloatArray | None
) -> FloatArray:
    """Precision matrix of the open channel corrections, shape (4 groups, 4 groups).

    Parameters
    ----------
    car : Car
        Sensor tolerances.
    layout : Layout
        Open groups.
    settings : PriorSettings
        Delays.
    body_delay_covariance_s2 : ndarray or None
        What the kinematic identity leaves open of the body's delays [s2], shape (4, 4); None where
        no identity has set the channels.
    """
    tolerance = car.tolerances
    delay = tolerance.channel_delay_s
    spread = {
        TRAVEL_DELAY: delay,
        HUB_DELAY: delay,
        BODY_DELAY: delay,
        HUB_GAIN: tolerance.accelerometer_gain,
        BODY_GAIN: tolerance.accelerometer_gain,
        DAMPER_LAG: settings.damper_lag_s,
    }
    deviations = np.repeat([spread[name] for name in layout.groups], 4)
    covariance = np.diag(deviations**2)
    if body_delay_covariance_s2 is not None:
        place = 4 * layout.groups.index(BODY_DELAY)
        covariance[place : place + 4, place : place + 4] = body_delay_covariance_s2
    else:
        shared = np.repeat([name in (HUB_DELAY, BODY_DELAY) for name in layout.groups], 4)
        covariance += settings.common_delay_s**2 * np.outer(shared, shared)
    precision = np.linalg.inv(covariance)
    gains = np.repeat([name in (HUB_GAIN, BODY_GAIN) for name in layout.groups], 4)
    # A gain common to all accelerometers moves no frequency and no ratio: it is not fitted.
    return np.asarray(precision + np.outer(gains, gains) / settings.common_gain**2)
