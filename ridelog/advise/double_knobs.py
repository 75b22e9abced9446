"""Dampers with a knob for bump and one for rebound: both chosen together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log
from typing import Literal

import numpy as np

from ridelog.advise.knob_belief import KnobBelief, Side, believe
from ridelog.advise.knob_choice import ChoiceRule, KnobChoice, Outlook, choose, unless_unread
from ridelog.advise.knob_odds import (
    expected_miss,
    probability_nearer,
    probability_within,
    towards_target,
)
from ridelog.advise.knobs import drives_at, latest_spread, law_of_clicks, predict, read_here
from ridelog.advise.readings import KnobHistory
from ridelog.advise.result import KnobLaw
from ridelog.estimate.result import Estimate
from ridelog.recording import BoolArray, FloatArray

BUMP_SHARE = 0.30
"""Bump's share of bump plus rebound damping where the owner states no targets of his own: common
practice, no source, 25-35 % (rebound two to three times bump)."""

LEVEL_EXTRA_SD = {"bump": 0.25, "rebound": 0.15}
"""How unsure that share is before the first drive, in logs; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoKnobAdvice:
    """Advice for a bump and a rebound knob, clicks from full soft.

    `bump` and `rebound` are (now, next); `targets` and `predicted` go bump, rebound, then the mean
    of both. `laws` are what each knob is believed to give its own side with the other knob at its
    next place.
    """

    bump: tuple[float, int]
    rebound: tuple[float, int]
    choice: KnobChoice
    targets: tuple[float, float]
    predicted: tuple[Estimate, Estimate, Estimate]
    laws: tuple[KnobLaw, KnobLaw]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Half:
    """One side's belief about all pairs of clicks, with its target."""

    belief: KnobBelief
    outlook: Outlook


def side_targets(target: float) -> tuple[float, float]:
    """Damping ratios wanted in bump and in rebound, so that their mean is the target.

    Parameters
    ----------
    target : float
        Damping ratio wanted, mean of bump and rebound [1].

    References
    ----------
    Contract: damping_ratio is the mean of both sides. The split is common practice, no source.
    """
    return 2 * BUMP_SHARE * target, 2 * (1 - BUMP_SHARE) * target


def advise_two_knobs(
    bump: KnobHistory,
    rebound: KnobHistory,
    targets: tuple[float, float],
    rule: ChoiceRule | None = None,
) -> TwoKnobAdvice | None:
    """Advise the next clicks of a bump and a rebound knob together.

    Parameters
    ----------
    bump, rebound : KnobHistory
        Readings of bump and rebound damping, each with the other knob as `other_knob`.
    targets : tuple of float
        Damping ratio wanted in bump and in rebound [1].
    rule : ChoiceRule, optional
        Limits of the rule.

    Returns
    -------
    TwoKnobAdvice or None
        None where a side has no readings or unknown present clicks.

    Notes
    -----
    Each side has its own law plus a linear effect of the other knob (real knobs leak into each
    other). The pair with the greatest product of both probabilities is driven next: on simulated
    owners better than one knob per drive as soon as knobs leak.

    References
    ----------
    Derived here.
    """
    if bump.now is None or rebound.now is None or not bump.readings or not rebound.readings:
        return None
    rule = rule or ChoiceRule()
    bumps, rebounds = np.meshgrid(
        np.arange(bump.last + 1), np.arange(rebound.last + 1), indexing="ij"
    )
    pair = np.column_stack([bumps.ravel() / bump.last, rebounds.ravel() / rebound.last])
    here = (round(sum(bump.now) / 2), round(sum(rebound.now) / 2))
    now = here[0] * (rebound.last + 1) + here[1]
    first = _half("bump", bump, targets[0], pair, now, rule)
    second = _half("rebound", rebound, targets[1], pair[:, ::-1], now, rule)
    spread = max(latest_spread(bump.readings), latest_spread(rebound.readings))
    choice = choose(
        _joint(first.outlook, second.outlook),
        now,
        spread,
        lasting_sd=max(bump.readings[-1].bias_sd, rebound.readings[-1].bias_sd),
        knobs=2,
        rule=rule,
    )
    read = read_here(bump, rebound) and read_here(rebound, bump)
    choice = unless_unread(choice, read=read)
    following = divmod(choice.next, rebound.last + 1)
    runs = len(bump.readings)
    sides = (
        predict(first.belief, choice.next, runs),
        predict(second.belief, choice.next, runs),
    )
    return TwoKnobAdvice(
        bump=(sum(bump.now) / 2, following[0]),
        rebound=(sum(rebound.now) / 2, following[1]),
        choice=choice,
        targets=targets,
        predicted=(*sides, mean_of(*sides)),
        laws=(
            law_of_clicks(_only(first.belief, pair[:, 1] == pair[choice.next, 1]), bump.last),
            law_of_clicks(_only(second.belief, pair[:, 0] == pair[choice.next, 0]), rebound.last),
        ),
    )


def _only(belief: KnobBelief, kept: BoolArray) -> KnobBelief:
    """Keep the belief about some of the settings."""
    return replace(belief, mean=belief.mean[:, kept], sd=belief.sd[kept])


def mean_of(bump: Estimate, rebound: Estimate) -> Estimate:
    """Mean of a bump and a rebound estimate with errors taken as independent.

    Parameters
    ----------
    bump, rebound : Estimate
        Both sides [1].

    References
    ----------
    JCGM 100:2008 (GUM), 5.1.2.
    """
    value = (bump.value + rebound.value) / 2
    down = float(np.hypot(bump.value - bump.low, rebound.value - rebound.low)) / 2
    up = float(np.hypot(bump.high - bump.value, rebound.high - rebound.value)) / 2
    return Estimate(value=value, low=value - down, high=value + up)


def _half(
    side: Literal["bump", "rebound"],
    history: KnobHistory,
    target: float,
    settings: FloatArray,
    now: int,
    rule: ChoiceRule,
) -> _Half:
    """Belief and outlook of one side over all settings."""
    share = BUMP_SHARE if side == "bump" else 1 - BUMP_SHARE
    own = Side(
        level_offset=log(2 * share), level_extra_sd=LEVEL_EXTRA_SD[side], has_other_knob=True
    )
    today = np.repeat(settings[now : now + 1], 2, axis=0)
    belief = believe(history.readings, settings, today, side=own, prior=history.prior)
    # The other knob moves this side too, so a stiffer own knob alone does not tell the direction.
    steps = belief.weight @ belief.mean - float(belief.weight @ belief.mean[:, now])
    return _Half(
        belief=belief,
        outlook=Outlook(
            within=probability_within(belief, target, rule.window),
            miss=expected_miss(belief, target),
            nearer=probability_nearer(belief, target, steps),
            # With two knobs a reading at other places of the other knob proves no direction.
            allowed=towards_target(history.readings[-1:], settings[:, 0], target),
            reads=drives_at(history.readings, settings),
        ),
    )


def _joint(bump: Outlook, rebound: Outlook) -> Outlook:
    """Both sides right at once."""
    return Outlook(
        within=bump.within * rebound.within,
        miss=bump.miss + rebound.miss,
        nearer=np.maximum(bump.nearer, rebound.nearer),
        allowed=bump.allowed & rebound.allowed,
        reads=np.minimum(bump.reads, rebound.reads),
    )
