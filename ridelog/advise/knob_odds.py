"""Odds and intervals read off a belief about a knob."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridelog.advise.knob_belief import KnobBelief, KnobReading
from ridelog.recording import BoolArray, FloatArray


def probability_within(belief: KnobBelief, target: float, window: float) -> FloatArray:
    """Probability that each setting's damping ratio lies within the window about the target.

    Parameters
    ----------
    belief : KnobBelief
        Mixture over m settings.
    target : float
        Damping ratio wanted [1].
    window : float
        Relative half-width of the window [1].

    Returns
    -------
    ndarray, shape (m,)
        Probabilities [1].

    References
    ----------
    Derived here from the mixture's normal components.
    """
    from scipy.special import ndtr

    low = (np.log(target * (1 - window)) - belief.mean) / belief.sd
    high = (np.log(target * (1 + window)) - belief.mean) / belief.sd
    return np.asarray(belief.weight @ (ndtr(high) - ndtr(low)))


def chance_within(value: float, sd: float, target: float, window: float = 0.10) -> float:
    """Probability that a quantity read once lies within the window about the target.

    Parameters
    ----------
    value : float
        The reading [unit of the target].
    sd : float
        Its relative standard deviation [1].
    target : float
        What is wanted [unit of the reading].
    window : float, optional
        Relative half-width of the window [1].

    References
    ----------
    Derived here: the logarithm of the reading taken as normal.
    """
    from scipy.special import ndtr

    edges = np.log(target * np.array([1 - window, 1 + window]) / value) / sd
    return float(ndtr(edges[1]) - ndtr(edges[0]))


def expected_miss(belief: KnobBelief, target: float) -> FloatArray:
    """Mean distance of the log damping ratio from the log target for each setting, shape (m,).

    Parameters
    ----------
    belief : KnobBelief
        Mixture over m settings.
    target : float
        Damping ratio wanted [1].

    References
    ----------
    Derived here: mean of a folded normal distribution, per component.
    """
    from scipy.special import ndtr

    offset = belief.mean - np.log(target)
    ratio = offset / belief.sd
    folded = belief.sd * np.sqrt(2 / np.pi) * np.exp(-0.5 * ratio**2)
    return np.asarray(belief.weight @ (folded + offset * (1 - 2 * ndtr(-ratio))))


def probability_nearer(belief: KnobBelief, target: float, steps_from_now: FloatArray) -> FloatArray:
    """Probability that each setting lies nearer to the target than the present one.

    Parameters
    ----------
    belief : KnobBelief
        With `half_mean` taken between each setting and the present one.
    target : float
        Damping ratio wanted [1].
    steps_from_now : ndarray, shape (m,)
        Knob position minus the present one [1]; only its sign counts.

    Returns
    -------
    ndarray, shape (m,)
        Probabilities [1]; 0 for the present setting.

    Notes
    -----
    A stiffer setting damps more; it is nearer exactly if the mean of both lies below the target.

    References
    ----------
    Derived here.
    """
    from scipy.special import ndtr

    below = belief.weight @ ndtr((np.log(target) - belief.half_mean) / belief.half_sd)
    return np.asarray(
        np.where(steps_from_now > 0, below, np.where(steps_from_now < 0, 1 - below, 0.0))
    )


def mixture_quantiles(
    weight: FloatArray, mean: FloatArray, sd: FloatArray, levels: Sequence[float]
) -> FloatArray:
    """Quantiles of mixtures of normal distributions, shape (levels, m).

    Parameters
    ----------
    weight : ndarray, shape (n,)
        Weights of the components [1], summing to 1.
    mean, sd : ndarray, shapes (n, m) and (m,)
        The components' means and their common standard deviation [1].
    levels : sequence of float
        Probabilities [1] between 0 and 1.

    References
    ----------
    Bisection of the mixture's distribution function.
    """
    from scipy.special import ndtr

    wanted = np.asarray(levels)[:, None]
    low = np.broadcast_to(mean.min(0) - 6 * sd, (len(levels), mean.shape[1])).copy()
    high = np.broadcast_to(mean.max(0) + 6 * sd, low.shape).copy()
    for _ in range(15):  # to 3e-5 of the span, far below any figure shown
        middle = (low + high) / 2
        share = np.einsum("p,plm->lm", weight, ndtr((middle[None] - mean[:, None, :]) / sd))
        low = np.where(share < wanted, middle, low)
        high = np.where(share < wanted, high, middle)
    return np.asarray((low + high) / 2)


def towards_target(
    readings: Sequence[KnobReading], knob: FloatArray, target: float, surely_sd: float = 1.96
) -> BoolArray:
    """Which settings the readings do not speak against: never away from the target.

    Parameters
    ----------
    readings : sequence of KnobReading
        Oldest first.
    knob : ndarray, shape (m,)
        Own knob position of each setting [1].
    target : float
        Damping ratio wanted [1].
    surely_sd : float, optional
        Distance from the target in standard deviations beyond which a reading is believed [1].

    Returns
    -------
    ndarray of bool, shape (m,)
        False for settings softer than one that was read too soft, or stiffer than one read too
        stiff. Readings of one setting are averaged. Where settings contradict each other, only the
        latest counts.

    References
    ----------
    Derived here: a damper's knob never softens when turned stiffer.
    """
    allowed = np.ones(len(knob), dtype=bool)
    for position in dict.fromkeys(r.knob for r in readings):
        allowed &= _one_sided(readings, position, knob, target, surely_sd)
    if not allowed.any():
        return _one_sided(readings, readings[-1].knob, knob, target, surely_sd)
    return allowed


def _one_sided(
    readings: Sequence[KnobReading],
    position: tuple[float, float],
    knob: FloatArray,
    target: float,
    surely_sd: float,
) -> BoolArray:
    """Tell the settings left over by the pooled readings at one knob position."""
    here = [r for r in readings if r.knob == position]
    weight = np.array([1 / (r.sd**2 + r.carry_sd**2) for r in here])
    off = float(weight @ [r.log_damping_ratio for r in here] / weight.sum()) - np.log(target)
    spread = float(np.hypot(1 / np.sqrt(weight.sum()), max(r.bias_sd for r in here)))
    if off < -surely_sd * spread:
        return np.asarray(knob >= min(position) - 1e-9)
    if off > surely_sd * spread:
        return np.asarray(knob <= max(position) + 1e-9)
    return np.ones(len(knob), dtype=bool)
