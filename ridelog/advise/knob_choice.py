"""Which click next, and when to stop: the rule on top of what is believed about the knob."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import erf, sqrt
from typing import Literal

import numpy as np

from ridelog.recording import BoolArray, FloatArray

Reason = Literal["likely", "limited", "resolved", "nearest", "best", "explore", "noisy", "unread"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceRule:
    """Limits of the rule, found on simulated owners (tests/bench/accuracy_advice.py)."""

    window: float = 0.10  # "right" means within this share of the target
    stop_probability: float = 0.87  # 0.80 stopped one click short in twice as many cars
    stop_probability_noisy: float = 0.70  # asking for more would never end with such runs
    noisy_sd: float = 0.10
    ceiling_share: float = 0.90  # of the probability that perfect repeats could reach
    runner_up_share: float = 0.60  # a click this likely teaches more than the same again
    most_repeats: int = 2  # drives at one setting; more of them settle nothing
    hopeless_probability: float = 0.25  # no click fits: take the nearest instead
    nearer_chance: float = 0.20  # a click less likely nearer than this is not worth a turn


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """What to expect of m settings against a target, each of shape (m,).

    `within` is the probability of lying within the window about the target, `miss` the expected
    distance in logs, `nearer` the probability of lying nearer to the target than the present
    setting, `allowed` False where the readings speak against a setting, `reads` how many drives
    were measured there.
    """

    within: FloatArray
    miss: FloatArray
    nearer: FloatArray
    allowed: BoolArray
    reads: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class KnobChoice:
    """The setting to drive next, by index, and why.

    `state` is ``turn``, ``repeat`` or ``done``; `gain` is how much nearer (relative) the likeliest
    setting is expected to be than the present one, `resolution` the relative 95 % half-width of one
    reading. `reason` is ``likely`` (right as far as one can tell), ``limited`` (as right as
    readings with lasting errors of this size can ever show), ``resolved`` (others are no
    better by more than a reading tells), ``nearest`` (off target, but no other is nearer),
    ``best``, ``explore`` (as likely, and teaches more), ``noisy`` (the reading must be repeated) or
    ``unread`` (believed right, but no drive has told anything there).
    """

    next: int
    state: Literal["turn", "repeat", "done"]
    reason: Reason
    probability_now: float
    probability_next: float
    gain: float
    resolution: float


def choose(
    outlook: Outlook,
    now: int,
    reading_sd: float,
    *,
    lasting_sd: float = 0.0,
    knobs: int = 1,
    rule: ChoiceRule | None = None,
) -> KnobChoice:
    """Choose the next setting, or say that the present one is right.

    Parameters
    ----------
    outlook : Outlook
        What to expect of m settings.
    now : int
        Index of the present setting [1].
    reading_sd : float
        Relative standard deviation of one reading, its bias included [1].
    lasting_sd : float, optional
        The part of it that is the same in every run [1]: no repeat shrinks it.
    knobs : int, optional
        Knobs chosen at once [1]; each must be right with the stop probability.
    rule : ChoiceRule, optional
        Limits.

    Returns
    -------
    KnobChoice
        An allowed setting, or the present one.

    Notes
    -----
    The setting most likely within the window is driven next. Where that is the present one: done if
    likely enough or if nothing else is likely to be nearer; else its best rival if nearly as
    likely and never driven, else the same again, once. Done also where the present one is likely
    enough and the likeliest is not expected to be nearer by more than one reading can tell, and
    where the present one stays the best after its rival was driven or it was driven twice.

    References
    ----------
    Derived here; looking further ahead gained nothing on simulated owners.
    """
    rule = rule or ChoiceRule()
    allowed = outlook.allowed.copy()
    allowed[now] = True
    best = _likeliest(outlook, allowed, rule)
    others = allowed.copy()
    others[now] = False
    rival = _likeliest(outlook, others, rule) if others.any() else now
    noisy = reading_sd >= rule.noisy_sd
    wanted = rule.stop_probability_noisy if noisy else rule.stop_probability
    reachable = rule.ceiling_share * _ceiling(lasting_sd, rule.window)
    # A reading so vague that nothing is likely ends nothing.
    enough = max(min(wanted, reachable), rule.hopeless_probability) ** knobs
    resolution = 1.96 * reading_sd
    gain = float(outlook.miss[now] - outlook.miss[best])
    likely = bool(outlook.within[now] >= enough)

    following, state, reason = now, "repeat", "noisy"
    if likely and (best == now or gain < resolution):
        limited = outlook.within[now] < wanted**knobs
        state, reason = "done", "limited" if limited else "likely" if best == now else "resolved"
    elif best != now:
        following, state, reason = best, "turn", "best"
    elif not others.any() or outlook.nearer[others].max() <= rule.nearer_chance:
        state, reason = "done", "nearest"
    elif not outlook.reads[rival] and (
        outlook.within[rival] >= rule.runner_up_share * outlook.within[now]
    ):
        following, state, reason = rival, "turn", "explore"
    elif outlook.reads[rival] or outlook.reads[now] >= rule.most_repeats:
        # The rival was tried, or the same again was: what is left is the same in every run.
        state, reason = "done", "resolved"
    return KnobChoice(
        next=following,
        state=state,  # type: ignore[arg-type]
        reason=reason,  # type: ignore[arg-type]
        probability_now=float(outlook.within[now]),
        probability_next=float(outlook.within[following]),
        gain=gain,
        resolution=resolution,
    )


def unless_unread(choice: KnobChoice, *, read: bool) -> KnobChoice:
    """Take back a "done" at a setting where no drive has told anything yet.

    Parameters
    ----------
    choice : KnobChoice
        The choice.
    read : bool
        Whether any drive was measured at the present setting.
    """
    if read or choice.state != "done":
        return choice
    return replace(choice, state="repeat", reason="unread")


def _ceiling(lasting_sd: float, window: float) -> float:
    """Probability within the window that endless repeats at the right setting would reach."""
    return erf(window / (lasting_sd * sqrt(2))) if lasting_sd > 0 else 1.0


def _likeliest(outlook: Outlook, allowed: BoolArray, rule: ChoiceRule) -> int:
    """Index of the likeliest setting; of the one expected nearest where none is likely."""
    within = np.where(allowed, outlook.within, -1.0)
    if within.max() >= rule.hopeless_probability:
        return int(np.argmax(within))
    return int(np.argmin(np.where(allowed, outlook.miss, np.inf)))
