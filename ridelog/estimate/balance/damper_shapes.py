"""What shapes a damper's force curve may have before the log is read."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from ridelog.estimate.balance.quantities import SECANT_SPEED_M_PER_S
from ridelog.estimate.damper_law_prior import DamperLawPrior, sampled_laws, softened
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class DamperShape:
    """A belief about one axle's dampers.

    `low_speed_step_ratio` is how much neighbouring pieces below the secant speed differ, relative
    to the damper's slope; `may_soften` whether it may open valves above, as digressive ones do.
    """

    low_speed_step_ratio: float
    may_soften: bool


STRAIGHT = DamperShape(low_speed_step_ratio=0.02, may_soften=False)
DIGRESSIVE = DamperShape(low_speed_step_ratio=0.02, may_soften=True)
BLED = DamperShape(low_speed_step_ratio=0.1, may_soften=True)  # a bleed hole bends the start
DAMPER_SHAPES = (STRAIGHT, DIGRESSIVE, BLED)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeSettings:
    """Standard deviations relative to the damper's slope at low speed.

    `straight_step_ratio` is what neighbouring pieces of a straight damper differ by. Laws of the
    usual family bend at one sharp knee or roundly, which a normal distribution holds badly:
    `beyond_family_ratio` is added to each of its steps.
    """

    straight_step_ratio: float = 0.03
    beyond_family_ratio: float = 0.12
    laws: DamperLawPrior = field(default_factory=DamperLawPrior)


def shape_rows(
    shape: DamperShape, node_speeds_m_per_s: tuple[float, ...], settings: ShapeSettings
) -> FloatArray:
    """Rows whose product with the slopes of one side, over its slope, is standard normal.

    Parameters
    ----------
    shape : DamperShape
        The belief.
    node_speeds_m_per_s : tuple of float
        Where the pieces begin [m/s].
    settings : ShapeSettings
        Standard deviations.

    Returns
    -------
    ndarray
        Shape (pieces - 1, pieces) [-].

    Notes
    -----
    Held to be straight, a damper with a knee is read with too little damping and too much
    friction, for that is what a force that grows less and less looks like. So steps above the
    secant speed have the mean and the covariance of a family of digressive laws.
    """
    # A step belongs to the node at which its upper piece begins.
    low = int(np.sum(np.array(node_speeds_m_per_s[1:]) < SECANT_SPEED_M_PER_S - 1e-9))
    pieces = np.eye(len(node_speeds_m_per_s))
    steps = np.diff(pieces, axis=0)
    steps[:low] /= shape.low_speed_step_ratio
    if not shape.may_soften:
        steps[low:] /= settings.straight_step_ratio
        return steps
    mean, whitener = _family_steps(node_speeds_m_per_s, low, settings)
    steps[low:] = whitener @ (steps[low:] - np.outer(mean, pieces[low]))
    return steps


@lru_cache(maxsize=8)
def _family_steps(
    node_speeds_m_per_s: tuple[float, ...], low: int, settings: ShapeSettings
) -> tuple[FloatArray, FloatArray]:
    """Mean and whitening matrix of the family's steps above the secant speed."""
    nodes = np.array(node_speeds_m_per_s)
    edges = np.append(nodes, 2 * nodes[-1] - nodes[-2])
    knee, late, _ = sampled_laws(settings.laws)
    force = softened(np.broadcast_to(edges, (len(knee), len(edges))), knee, late)
    slopes = np.diff(force, axis=1) / np.diff(edges)
    steps = np.diff(slopes / slopes[:, low : low + 1], axis=1)[:, low:]
    covariance = np.atleast_2d(np.cov(steps.T))
    covariance += settings.beyond_family_ratio**2 * np.eye(len(covariance))
    return steps.mean(axis=0), np.linalg.cholesky(np.linalg.inv(covariance)).T
