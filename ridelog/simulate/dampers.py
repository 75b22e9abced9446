"""Damper force curves, and what a turn of the knob does to them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ridelog.recording import FloatArray

CurveFamily = Literal["linear", "knee", "saturating", "root"]
KnobFamily = Literal["log_power", "linear", "inverse", "dead_ends", "saturating"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DamperCurve:
    """One side (bump or rebound) of a damper: force against speed, both counted positive.

    `slope_n_s_per_m` is the slope before the valves open, at `knee_m_per_s` they do, and
    `high_speed_ratio` of the slope is left far above it. `bleed_ratio` lowers the slope near
    zero speed, where oil passes the bleed hole alone, by that share.
    """

    family: CurveFamily
    slope_n_s_per_m: float
    knee_m_per_s: float = 0.1
    high_speed_ratio: float = 0.5
    bleed_ratio: float = 0.0
    bleed_speed_m_per_s: float = 0.02

    def scaled(self, factor: float) -> DamperCurve:
        """Return the curve with every force multiplied by `factor`."""
        return replace(self, slope_n_s_per_m=self.slope_n_s_per_m * factor)


@dataclass(frozen=True, slots=True, kw_only=True)
class Knob:
    """What the clicks do: damping at `soft_ratio` (click 0) to `stiff_ratio` of the curve.

    `family` and `shape` say how it gets from one to the other; `irregular` holds one log
    deviation per click. `bump_share` is the part of the (log) change that bump gets; rebound gets
    all of it.
    """

    clicks: int
    soft_ratio: float
    stiff_ratio: float
    family: KnobFamily = "log_power"
    shape: float = 1.0
    dead_ratio: float = 0.1
    bump_share: float = 1.0
    irregular: tuple[float, ...] = ()


def side_force_n(curve: DamperCurve, speed_m_per_s: FloatArray) -> FloatArray:
    """Force of one side of a damper.

    Parameters
    ----------
    curve : DamperCurve
        The side.
    speed_m_per_s : FloatArray
        Damper speed [m/s], not negative, any shape.

    Returns
    -------
    FloatArray
        Force [N], same shape.

    References
    ----------
    Derived here. The families follow the shapes in which dampers are sold (linear, digressive with
    a knee, digressive without one, square root): common practice, no source.
    """
    v, knee, ratio = speed_m_per_s, curve.knee_m_per_s, curve.high_speed_ratio
    if curve.family == "linear":
        bent = v
    elif curve.family == "knee":
        width = 0.15 * knee
        over = np.logaddexp(0.0, (v - knee) / width) - np.logaddexp(0.0, -knee / width)
        bent = v - (1 - ratio) * width * over
    elif curve.family == "saturating":
        bent = ratio * v + (1 - ratio) * knee * np.tanh(v / knee)
    else:
        bent = ratio * v + (1 - ratio) * knee * (np.sqrt(1 + 2 * v / knee) - 1)
    bleed = 1 - curve.bleed_ratio * np.exp(-v / curve.bleed_speed_m_per_s)
    force: FloatArray = curve.slope_n_s_per_m * bent * bleed
    return force


def damper_force_n(
    bump: DamperCurve, rebound: DamperCurve, speed_m_per_s: FloatArray
) -> FloatArray:
    """Damper force [N], positive in bump, at signed damper speeds [m/s], friction excluded."""
    v = np.asarray(speed_m_per_s, dtype=float)
    pushed = side_force_n(bump, np.maximum(v, 0.0))
    pulled = side_force_n(rebound, np.maximum(-v, 0.0))
    return pushed - pulled


def knob_factor(knob: Knob, click: int) -> float:
    """Rebound damping at a click, relative to the damper's curve.

    Parameters
    ----------
    knob : Knob
        The knob's law.
    click : int
        Clicks from full soft, 0 to `knob.clicks`.

    Raises
    ------
    ValueError
        If the knob has no such click.
    """
    if not 0 <= click <= knob.clicks:
        raise ValueError(f"click {click} is outside 0 to {knob.clicks}")
    turn = click / knob.clicks
    soft, stiff = knob.soft_ratio, knob.stiff_ratio
    if knob.family == "linear":
        factor = soft + (stiff - soft) * turn**knob.shape
    elif knob.family == "inverse":
        factor = 1 / (1 / soft + (1 / stiff - 1 / soft) * turn**knob.shape)
    elif knob.family == "saturating":
        factor = soft + (stiff - soft) * (1 - np.exp(-3 * turn)) / (1 - np.exp(-3.0))
    else:
        if knob.family == "dead_ends":
            turn = float(np.clip((turn - knob.dead_ratio) / (1 - 2 * knob.dead_ratio), 0, 1))
        factor = soft * (stiff / soft) ** (turn**knob.shape)
    deviation = knob.irregular[click] if knob.irregular else 0.0
    return float(factor * np.exp(deviation))
