"""Force-speed curve of a damper from a testing machine or a dyno sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSettings:
    """Settings of `bench_curve`.

    nodes: points of the curve over the whole speed range. samples_per_node: fewer are no median.
    friction_from, friction_to: part of the peak speed over which the curve is drawn back to zero
    to read friction; below it the loop turns round, above it valves have opened. friction_nodes:
    fewer points there are no line.
    """

    nodes: int = 41
    samples_per_node: int = 5
    friction_from: float = 0.1
    friction_to: float = 0.4
    friction_nodes: int = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BenchCurve:
    """Measured force against speed, never falling.

    `force_n` is the middle of the loop at `speed_m_per_s`, friction included, both rising.
    `friction_n` is half the step at zero speed, dry friction and whatever looks like it on this
    machine; None where too few slow samples show it. `hysteresis_n` is half the mean width of the
    loop between rising and falling speed: gas, compliance and cavitation, which a curve cannot
    show.
    """

    speed_m_per_s: FloatArray
    force_n: FloatArray
    friction_n: float | None
    hysteresis_n: float


def bench_curve(
    velocity: FloatArray, force: FloatArray, settings: BenchSettings | None = None
) -> BenchCurve:
    """Monotone force-speed curve of a damper from one bench recording.

    Parameters
    ----------
    velocity : FloatArray
        Damper speed [m/s], positive in bump, samples in order of time, shape (n,).
    force : FloatArray
        Damper force [N], positive in bump, gas force taken off, shape (n,).
    settings : BenchSettings, optional
        Settings.

    Returns
    -------
    BenchCurve
        Curve, friction and hysteresis.

    Raises
    ------
    NotEnoughDataError
        If too few samples or speeds are there for a curve.
    SignalError
        If force and speed have opposite signs, so that one of them points the other way.

    Notes
    -----
    At each speed the median force with speed rising and the one with speed falling are averaged,
    then the nearest never falling curve is taken (isotonic regression). A damper's force at a speed
    differs between strokes and frequencies; compare curves of like strokes.

    References
    ----------
    J. C. Dixon, The Shock Absorber Handbook, 2nd ed. (2007), ch. 9 (testing; from memory). Isotonic
    regression: R. E. Barlow et al., Statistical Inference under Order Restrictions (1972).
    """
    from scipy.optimize import isotonic_regression

    s = settings or BenchSettings()
    finite = np.isfinite(velocity) & np.isfinite(force)
    v, f = velocity[finite], force[finite]
    if len(v) < s.nodes * s.samples_per_node:
        needed = s.nodes * s.samples_per_node
        raise NotEnoughDataError("bench curve", needed=needed, found=len(v), unit="samples")
    if np.corrcoef(v, f)[0, 1] <= 0:
        raise SignalError(
            "bench curve: force and speed point opposite ways; turn the sign of one of them"
        )
    edges = np.linspace(v.min(), v.max(), s.nodes + 1)
    which = np.clip(np.searchsorted(edges, v, side="right") - 1, 0, s.nodes - 1)
    rising = np.gradient(v) > 0
    up = _branch_medians(f, which, rising, s)
    down = _branch_medians(f, which, ~rising, s)
    middle = np.where(np.isnan(up), down, np.where(np.isnan(down), up, (up + down) / 2))
    known = ~np.isnan(middle)
    if np.sum(known) < s.nodes // 2:
        raise NotEnoughDataError(
            "bench curve", needed=s.nodes // 2, found=float(np.sum(known)), unit="speeds"
        )
    speed = np.array([np.median(v[which == node]) for node in np.flatnonzero(known)])
    monotone = np.asarray(isotonic_regression(middle[known]).x, dtype=np.float64)
    return BenchCurve(
        speed_m_per_s=speed,
        force_n=monotone,
        friction_n=_friction(speed, monotone, s),
        hysteresis_n=float(np.nanmean(np.abs(up - down))) / 2,
    )


def force_at_speed(curve: BenchCurve, speed: float) -> float:
    """Force of the curve at one speed [N], friction included.

    Parameters
    ----------
    curve : BenchCurve
        The curve.
    speed : float
        Damper speed [m/s], positive in bump.

    Raises
    ------
    SignalError
        If the bench did not reach that speed.

    References
    ----------
    Derived here: straight lines between the nodes.
    """
    slowest, fastest = float(curve.speed_m_per_s[0]), float(curve.speed_m_per_s[-1])
    if not slowest <= speed <= fastest:
        raise SignalError(
            f"bench curve: {speed:.3g} m/s lies outside the {slowest:.3g} to {fastest:.3g} m/s "
            "of the recording"
        )
    return float(np.interp(speed, curve.speed_m_per_s, curve.force_n))


def _branch_medians(
    force: FloatArray, which: npt.NDArray[np.intp], branch: BoolArray, s: BenchSettings
) -> FloatArray:
    """Median force of one branch at each node, NaN where it has too few samples."""
    medians = np.full(s.nodes, np.nan)
    for node in range(s.nodes):
        inside = force[branch & (which == node)]
        if len(inside) >= s.samples_per_node:
            medians[node] = np.median(inside)
    return medians


def _friction(speed: FloatArray, force: FloatArray, s: BenchSettings) -> float | None:
    """Half the step between the two sides when drawn back to zero speed; None if not to be seen."""
    steps = []
    for side in (1.0, -1.0):
        along = side * speed
        part = (along > s.friction_from * along.max()) & (along < s.friction_to * along.max())
        if np.sum(part) < s.friction_nodes:
            return None
        steps.append(np.polyfit(along[part], side * force[part], 1)[1])
    return float(np.mean(steps)) if min(steps) > 0 else None
