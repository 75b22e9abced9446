"""One knob per damper: the click to drive next and the damping to expect there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.advise.knob_belief import KnobBelief, KnobReading, believe
from ridelog.advise.knob_choice import ChoiceRule, KnobChoice, Outlook, choose, unless_unread
from ridelog.advise.knob_odds import (
    expected_miss,
    mixture_quantiles,
    probability_nearer,
    probability_within,
    towards_target,
)
from ridelog.advise.knob_reach import expect_reach
from ridelog.advise.readings import KnobHistory
from ridelog.advise.result import KnobLaw
from ridelog.estimate.result import Estimate
from ridelog.recording import FloatArray

LEVELS_95 = (0.025, 0.5, 0.975)
FIRST_RUN_WIDTH = 0.92
"""Raw predictions after one run cover too much on simulated owners: narrow them by this."""

SAME_SETTING = 1e-6
"""Shares of a knob's travel closer than this are one setting."""

POOR_FIT = 6.0
"""Squared misfit per run, in standard deviations of the whole prior, beyond which runs disagree."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnobAdvice:
    """Advice for one knob, clicks from full soft.

    `predicted` is what the next drive at `choice.next` will measure, `law` what every click is
    believed to give. `at_end` names the end of the knob that keeps the axle from its target.
    `disagree` is True where the runs fit no law.
    """

    choice: KnobChoice
    predicted: Estimate
    law: KnobLaw
    at_end: str | None
    disagree: bool


def advise_knob(
    history: KnobHistory, target: float, rule: ChoiceRule | None = None
) -> KnobAdvice | None:
    """Advise the next click of a single knob that rules bump and rebound together.

    Parameters
    ----------
    history : KnobHistory
        Readings of this axle, at least one, and the present clicks.
    target : float
        Damping ratio wanted [1].
    rule : ChoiceRule, optional
        Limits of the rule.

    Returns
    -------
    KnobAdvice or None
        None without readings or without known present clicks.

    Notes
    -----
    See `believe` for the law and `choose` for the rule. The prediction is a 95 % interval for what
    the next drive will measure, noise of the size of the latest run's included.

    References
    ----------
    Derived here.
    """
    if history.now is None or not history.readings:
        return None
    rule = rule or ChoiceRule()
    clicks = np.arange(history.last + 1.0)
    now = round(sum(history.now) / 2)
    settings = np.column_stack([clicks / history.last, np.zeros(len(clicks))])
    today = np.column_stack([np.array(history.now) / history.last, np.zeros(2)])
    belief = believe(history.readings, settings, today, prior=history.prior)
    belief = expect_reach(belief, target, history.prior)
    outlook = Outlook(
        within=probability_within(belief, target, rule.window),
        miss=expected_miss(belief, target),
        nearer=probability_nearer(belief, target, clicks - now),
        allowed=towards_target(history.readings, settings[:, 0], target),
        reads=drives_at(history.readings, settings),
    )
    choice = choose(
        outlook,
        now,
        latest_spread(history.readings),
        lasting_sd=history.readings[-1].bias_sd,
        rule=rule,
    )
    choice = unless_unread(choice, read=read_here(history))
    return KnobAdvice(
        choice=choice,
        predicted=predict(belief, choice.next, len(history.readings)),
        law=law_of_clicks(belief, history.last),
        at_end=end_reached(belief, now, target, rule) if choice.state == "done" else None,
        disagree=belief.misfit > POOR_FIT,
    )


def clicks_on_other_spring(
    history: KnobHistory, target: float, spring_ratio: float, rule: ChoiceRule | None = None
) -> int | None:
    """Click expected to reach the target once another spring is fitted, from full soft.

    Parameters
    ----------
    history : KnobHistory
        Readings, carried to the springs of today.
    target : float
        Damping ratio wanted [1].
    spring_ratio : float
        Rate of the other spring over that of today's [1].
    rule : ChoiceRule, optional
        Limits of the rule.

    Returns
    -------
    int or None
        None without readings.

    References
    ----------
    Derived here: the ratio falls with the square root of the spring rate, the coefficient stays.
    """
    if not history.readings:
        return None
    rule = rule or ChoiceRule()
    clicks = np.arange(history.last + 1.0)
    belief = believe(
        history.readings,
        np.column_stack([clicks / history.last, np.zeros(len(clicks))]),
        prior=history.prior,
    )
    wanted = target * spring_ratio**0.5
    within = probability_within(belief, wanted, rule.window)
    if within.max() < rule.hopeless_probability:
        return int(np.argmin(expected_miss(belief, wanted)))
    return int(np.argmax(within))


def read_here(history: KnobHistory, other: KnobHistory | None = None) -> bool:
    """Whether any drive was measured at the present clicks.

    Parameters
    ----------
    history : KnobHistory
        The knob's readings.
    other : KnobHistory, optional
        The damper's other knob.
    """
    if history.now is None or (other is not None and other.now is None):
        return False
    here = tuple(clicks / history.last for clicks in history.now)
    there = None if other is None or other.now is None else other.now
    beside = None if there is None or other is None else tuple(c / other.last for c in there)
    return any(
        reading.knob == here and beside in (None, reading.other_knob)
        for reading in history.readings
    )


def drives_at(readings: tuple[KnobReading, ...], settings: FloatArray) -> FloatArray:
    """Count the drives measured at each setting, shape (m,).

    Parameters
    ----------
    readings : tuple of KnobReading
        Oldest first, n of them.
    settings : ndarray, shape (m, 2)
        Own knob and other knob [1], shares of full travel from full soft.
    """
    driven = np.array([[np.mean(r.knob), np.mean(r.other_knob)] for r in readings])
    apart = np.abs(settings[:, None, :] - driven[None, :, :]).max(axis=2)
    return np.asarray((apart < SAME_SETTING).sum(axis=1), dtype=float)


def latest_spread(readings: tuple[KnobReading, ...]) -> float:
    """Relative standard deviation of the latest reading, bias included [1].

    References
    ----------
    JCGM 100:2008 (GUM), 5.1.2: independent parts add in squares.
    """
    return float(np.hypot(readings[-1].sd, readings[-1].bias_sd))


def predict(belief: KnobBelief, index: int, runs: int) -> Estimate:
    """Damping ratio that the next drive at one setting will measure, with its 95 % interval.

    Parameters
    ----------
    belief : KnobBelief
        About all settings.
    index : int
        The setting's index [1].
    runs : int
        Runs behind the belief [1].

    References
    ----------
    Derived here; the narrowing after one run comes from simulated owners.
    """
    low, middle, high = mixture_quantiles(
        belief.weight,
        belief.measured_mean[:, [index]],
        belief.measured_sd[[index]],
        LEVELS_95,
    )[:, 0]
    width = FIRST_RUN_WIDTH if runs == 1 else 1.0
    return Estimate(
        value=float(np.exp(middle)),
        low=float(np.exp(middle + width * (low - middle))),
        high=float(np.exp(middle + width * (high - middle))),
    )


def end_reached(belief: KnobBelief, now: int, target: float, rule: ChoiceRule) -> str | None:
    """Name the end of the knob at which the axle stands with its target beyond, if it does.

    Parameters
    ----------
    belief : KnobBelief
        About all clicks.
    now : int
        The present click [1] from full soft.
    target : float
        Damping ratio wanted [1].
    rule : ChoiceRule
        How near is right.

    References
    ----------
    Derived here: more likely than not outside the window even at the last click.
    """
    from scipy.special import ndtr

    edge = np.log(target * np.array([1 - rule.window, 1 + rule.window]))
    below = belief.weight @ ndtr(
        (edge[:, None, None] - belief.mean[:, [0, -1]]) / belief.sd[[0, -1]]
    )
    if now == belief.mean.shape[1] - 1 and below[0, -1] > 0.5:
        return "stiff"
    if now == 0 and below[1, 0] < 0.5:
        return "soft"
    return None


def law_of_clicks(belief: KnobBelief, last: int) -> KnobLaw:
    """Tell median and 95 % band of the damping ratio at every click.

    Parameters
    ----------
    belief : KnobBelief
        About every click from full soft.
    last : int
        Highest click [1].
    """
    low, middle, high = np.exp(mixture_quantiles(belief.weight, belief.mean, belief.sd, LEVELS_95))
    return KnobLaw(
        clicks=tuple(range(last + 1)),
        damping_ratio=tuple(float(v) for v in middle),
        low=tuple(float(v) for v in low),
        high=tuple(float(v) for v in high),
    )
