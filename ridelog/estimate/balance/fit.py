"""The force balance itself: one linear fit inside a few corrections of the channels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from ridelog.car.description import Car
from ridelog.estimate.balance.basis import BasisSettings
from ridelog.estimate.balance.kinematics import (
    Calibration,
    KinematicSettings,
    body_delay_covariance,
    calibrate_kinematics,
    no_calibration,
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
from ridelog.estimate.balance.motion import MotionSettings, relative_motion
from ridelog.estimate.balance.normal_equations import normal_equations
from ridelog.estimate.balance.prior import (
    PriorSettings,
    channel_precision,
    mechanical_prior,
)
from ridelog.estimate.balance.rows import BlockRows, block_rows
from ridelog.estimate.balance.signals import CornerSignals, lively, smooth_gate
from ridelog.estimate.balance.transform import end_taper, make_transform
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceSettings:
    """Bands and passes of the fit, and the settings of its parts."""

    low_hz: float = 0.6  # below, braking and cornering push the body
    high_hz: float = 22.0  # the damper curve lives in the wheel-hop band
    high_without_hubs_hz: float = 16.0  # above, speed from quantised travel is noise
    taper_s: float = 1.5
    clearance_s: float = 0.1
    ramp_s: float = 0.12
    noise_step_hz: float = 1.0
    # Stretches this much quieter than the drive count for nothing: see `lively`.
    quiet_ratio: float = 0.3
    quiet_window_s: float = 1.0
    # Of a damper's force: a smaller change needs no further pass, a straight line in it will do.
    least_lag_s: float = 0.0002
    lag_passes: int = 4
    slowest_with_lag_hz: float = 150.0  # below, a lag is less than half a sample
    slow_limit_hz: float = 0.45  # offsets, tilt and braking, which holes in the gate smear upwards
    slow_acceleration_m_per_s2: float = 1.0
    basis: BasisSettings = field(default_factory=BasisSettings)
    motion: MotionSettings = field(default_factory=MotionSettings)
    kinematics: KinematicSettings = field(default_factory=KinematicSettings)
    prior: PriorSettings = field(default_factory=PriorSettings)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BalanceFit:
    """Fitted parameters with the places of `layout` and their covariance.

    `normal` and `weighted_target` are the log's own information without any prior, so that the
    same log can be read under another prior. `blocks` are the last linearisation.
    """

    layout: Layout
    parameters: FloatArray
    covariance: FloatArray
    normal: FloatArray
    weighted_target: FloatArray
    calibration: Calibration
    sensor_set: str
    blocks: tuple[BlockRows, ...]
    residual_ratio: float

    @property
    def force_scale(self) -> float:
        """Factor on all forces: gains of the body sensors are fitted relative to their mean."""
        if BODY_GAIN not in self.layout.groups:
            return 1.0
        return float(np.exp(np.mean(self.parameters[self.layout.group(BODY_GAIN)])))


def sensor_set_of(signals: CornerSignals) -> str:
    """Name the sensor set: ``travel+body+hub``, ``travel+body`` or ``body+hub``.

    Parameters
    ----------
    signals : CornerSignals
        The signals.

    Raises
    ------
    ValueError
        If there is neither travel nor hub.
    """
    if signals.travel_m is not None:
        return "travel+body" if signals.hub_m_per_s2 is None else "travel+body+hub"
    if signals.hub_m_per_s2 is None:
        raise ValueError("the force balance needs travel or hub signals beside the body's")
    return "body+hub"


_OPEN_GROUPS = {
    "travel+body+hub": (BODY_DELAY, DAMPER_LAG),
    "travel+body": (TRAVEL_DELAY, BODY_DELAY),
    "body+hub": (HUB_DELAY, BODY_DELAY, HUB_GAIN, BODY_GAIN),
}
# Passes over which the channel corrections are linearised anew, and solutions within each.
_OUTER_PASSES = {"travel+body+hub": 1, "travel+body": 2, "body+hub": 3}
_INNER_PASSES = 3


def fit_balance(
    blocks: Sequence[CornerSignals], car: Car, settings: BalanceSettings | None = None
) -> BalanceFit:
    """Fit springs, damper curves, friction, bars and inertias to the motion of the body.

    Parameters
    ----------
    blocks : sequence of CornerSignals
        Stretches of log of equal length.
    car : Car
        Masses and lever ratios; the stated spring rate is a scale only.
    settings : BalanceSettings, optional
        Bands and priors.

    Returns
    -------
    BalanceFit
        Parameters with their covariance.

    Notes
    -----
    Sprung mass times body acceleration is what springs, dampers and friction do, whatever the
    road; those are curves of travel and speed, so the fit is linear in them. Heave, pitch and
    roll are fitted together, whitened by the residual's own spectrum; channel gains and delays
    that the sensors do not settle among themselves are unknowns with the tolerance as prior. With
    all sensors so is the lag that a soft top mount gives a damper's force. Otherwise valid for
    dampers whose force depends on speed alone and a rigid body; what breaks that shows as residual
    and widens the intervals.

    References
    ----------
    Derived here from Newton and Euler; generalised least squares as in any text on estimation.
    """
    settings = settings or BalanceSettings()
    sensor_set = sensor_set_of(blocks[0])
    calibrated = sensor_set == "travel+body+hub"
    calibration = (
        calibrate_kinematics(blocks, car, settings.kinematics) if calibrated else no_calibration()
    )
    groups = _OPEN_GROUPS[sensor_set]
    if blocks[0].sample_rate_hz < settings.slowest_with_lag_hz:
        groups = tuple(name for name in groups if name != DAMPER_LAG)
    layout = Layout(basis=settings.basis, groups=groups)
    precision, weighted_mean = mechanical_prior(
        car, layout, settings.prior, one_side_may_be_tired=False
    )
    channels = slice(layout.mechanical_count, layout.count)
    open_precision = channel_precision(
        car, layout, settings.prior, body_delay_covariance(calibration) if calibrated else None
    )
    precision[channels, channels] += open_precision
    never_negative = friction_places(layout)
    parameters: FloatArray | None = None
    applied = np.zeros(layout.count)  # corrections that are in the rows already
    normal = np.zeros_like(precision)
    target = np.zeros_like(weighted_mean)
    rows: tuple[BlockRows, ...] = ()
    ratio = 1.0
    for _ in range(_OUTER_PASSES[sensor_set]):
        rows = tuple(_linearise(block, car, calibration, settings) for block in blocks)
        prompt, lag_s = rows, np.zeros(4)
        for lag_pass in range(1 + settings.lag_passes):
            if lag_pass:
                found_s = _damper_lag_s(layout, parameters, lag_s)
                if np.max(np.abs(found_s - lag_s)) < settings.least_lag_s:
                    break
                lag_s = found_s
                rows = tuple(_lagged(block, lag_s) for block in prompt)
                applied[layout.group(DAMPER_LAG)] = lag_s
            believed = weighted_mean.copy()
            believed[channels] -= open_precision @ applied[channels]
            for _ in range(_INNER_PASSES):
                normal, target, ratio = normal_equations(
                    rows,
                    car,
                    layout,
                    calibration,
                    parameters,
                    noise_step_hz=settings.noise_step_hz,
                    slow_acceleration_m_per_s2=settings.slow_acceleration_m_per_s2,
                )
                parameters = solve_nonnegative(
                    normal + precision, target + believed, never_negative
                )
        assert parameters is not None
        calibration = _advance(calibration, layout, parameters)
        applied[channels] += parameters[channels]
    assert parameters is not None
    return BalanceFit(
        layout=layout,
        parameters=parameters,
        covariance=np.asarray(np.linalg.inv(normal + precision), dtype=float),
        normal=normal,
        weighted_target=target + believed - weighted_mean,
        calibration=calibration,
        sensor_set=sensor_set,
        blocks=rows,
        residual_ratio=ratio,
    )


def solve_nonnegative(
    matrix: FloatArray, target: FloatArray, never_negative: npt.NDArray[np.intp]
) -> FloatArray:
    """Solve normal equations with some unknowns held at zero where they would be negative.

    Parameters
    ----------
    matrix : ndarray
        Normal matrix [mixed], shape (p, p).
    target : ndarray
        Right-hand side [mixed], shape (p,).
    never_negative : ndarray of int
        Places of the unknowns that cannot be negative.

    References
    ----------
    The active-set idea of Lawson & Hanson, Solving Least Squares Problems, 1974, ch. 23.
    """
    free = np.ones(len(target), dtype=bool)
    while True:
        solution = np.zeros(len(target))
        solution[free] = np.linalg.solve(matrix[np.ix_(free, free)], target[free])
        negative = never_negative[solution[never_negative] < 0]
        if negative.size == 0:
            return solution
        free[negative] = False


def friction_places(layout: Layout) -> npt.NDArray[np.intp]:
    """Places of all friction forces.

    Parameters
    ----------
    layout : Layout
        Places of the parameters.
    """
    return np.concatenate([np.r_[layout.friction(corner)] for corner in range(4)])


def _linearise(
    signals: CornerSignals,
    car: Car,
    calibration: Calibration,
    settings: BalanceSettings,
) -> BlockRows:
    """Motion, gate and columns of one stretch at the current calibration."""
    transform = make_transform(signals.sample_count, signals.sample_rate_hz)
    motion = relative_motion(signals, car, calibration, transform, settings.motion)
    taper = end_taper(signals.sample_count, signals.sample_rate_hz, settings.taper_s)
    speed = motion.speed_m_per_s()
    moving = lively(
        speed,
        signals.use,
        round(settings.quiet_window_s * signals.sample_rate_hz),
        settings.quiet_ratio,
    )
    gate = smooth_gate(
        signals.use & moving & (taper > 0.999),
        signals.sample_rate_hz,
        clearance_s=settings.clearance_s,
        ramp_s=settings.ramp_s,
    )
    high = settings.high_hz if signals.hub_m_per_s2 is not None else settings.high_without_hubs_hz
    band = transform.band(settings.low_hz, min(high, 0.4 * signals.sample_rate_hz))
    return block_rows(
        motion, speed, gate, band, settings.basis, slow_limit_hz=settings.slow_limit_hz
    )


def _damper_lag_s(
    layout: Layout, parameters: FloatArray | None, applied_s: FloatArray
) -> FloatArray:
    """Lag of each damper's force, that in the rows and what the last solution adds, shape (4,)."""
    if parameters is None or DAMPER_LAG not in layout.groups:
        return applied_s
    return np.asarray(np.maximum(applied_s + parameters[layout.group(DAMPER_LAG)], 0.0))


def _lagged(rows: BlockRows, lag_s: FloatArray) -> BlockRows:
    """Damper and friction curves as a first-order lag passes them on; springs sit beside it."""
    columns = rows.columns.copy()
    columns[:, 1:] /= (1 + 1j * rows.angular_rad_per_s * lag_s[:, None])[:, None]
    return replace(rows, columns=columns)


def _advance(calibration: Calibration, layout: Layout, parameters: FloatArray) -> Calibration:
    """Move the fitted channel corrections into the calibration."""
    fields = {
        TRAVEL_DELAY: "travel_delay_s",
        HUB_DELAY: "hub_delay_s",
        HUB_GAIN: "hub_log_gain",
        BODY_DELAY: "body_delay_s",
        BODY_GAIN: "body_log_gain",
    }
    changes = {
        fields[name]: getattr(calibration, fields[name]) + parameters[layout.group(name)]
        for name in layout.groups
        if name in fields
    }
    return replace(calibration, **changes)
