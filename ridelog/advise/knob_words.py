"""The reasons for a click, in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.advise.knob_choice import ChoiceRule, KnobChoice
from ridelog.advise.knobs import KnobAdvice
from ridelog.advise.readings import Knob, KnobHistory
from ridelog.advise.result import KnobLaw
from ridelog.advise.wording import click_words
from ridelog.car.description import Axle
from ridelog.estimate.result import Estimate

SHEET_REASON = (
    "The dyno sheet tells what a click does; how much damping that is on this car only the runs "
    "tell, as machines and dampers differ by a tenth or two in level."
)

GOOD_RESOLUTION = 0.10
"""Relative 95 % half-width of a reading up to which simulated cars were misled 1 time in 12."""


def choice_reasons(
    choice: KnobChoice, predicted: Estimate, axle: Axle, knob: Knob = "clicks"
) -> tuple[str, ...]:
    """Say why this click, what it will do and what would change the advice.

    Parameters
    ----------
    choice : KnobChoice
        The choice; its index is the click from full soft.
    predicted : Estimate
        What the next drive will measure.
    axle : Axle
        The axle.
    knob : str
        Which knob.
    """
    place = click_words(axle, choice.next, knob)
    if choice.state == "turn":
        return turn_reasons(choice, predicted, place)
    return still_reasons(choice, place)


def turn_reasons(choice: KnobChoice, predicted: Estimate, place: str) -> tuple[str, ...]:
    """Say why to turn.

    Parameters
    ----------
    choice : KnobChoice
        The choice.
    predicted : Estimate
        What the next drive will measure.
    place : str
        Where to turn to, in words.
    """
    chances = (
        f"{_chance(choice.probability_next)} to lie within 10 % of the target, "
        f"{_chance(choice.probability_now)} as it stands"
    )
    why = f"{place} is the likeliest setting: {chances}."
    if choice.probability_next < ChoiceRule().hopeless_probability:
        why = f"{place} is expected to come nearest ({chances})."
    if choice.reason == "explore":
        why = f"{place} is nearly as likely ({chances}) and teaches more than the same again."
    return (
        why,
        f"Should the next drive there read outside {predicted.low:.3f} to {predicted.high:.3f}, "
        "the knob does not do what is believed, and the advice will shift.",
    )


def still_reasons(choice: KnobChoice, place: str) -> tuple[str, ...]:
    """Say why not to turn: done, or the same again.

    Parameters
    ----------
    choice : KnobChoice
        The choice.
    place : str
        Where the knob stands, in words.
    """
    chance = _chance(choice.probability_now)
    if choice.reason == "unread":
        return (
            f"{place} is believed right ({chance} within 10 % of the target), but no drive has "
            "told the damping there (the log's notes say why): drive it again, longer.",
        )
    if choice.state == "repeat":
        return (
            f"{place} is the best bet ({chance} within 10 % of the target), but one reading tells "
            f"only to {100 * choice.resolution:.0f} %: drive it again, longer, before turning on.",
        )
    if choice.reason == "nearest":
        return (f"Done: no other click is likely to be nearer to the target than {place}.",)
    if choice.reason == "limited":
        return (
            f"Done as far as these sensors can tell: {place} is the best bet, {chance} within 10 % "
            "of the target. What they have wrong in every run no further drive can show; travel, "
            "body and hub sensors together would.",
        )
    wrong = "1 in 12" if choice.resolution <= GOOD_RESOLUTION else "1 in 8"
    return (
        f"Done: no click is distinguishably better than {place} ({chance} within 10 % of the "
        f"target). About {wrong} such verdicts is wrong, and what sensors and masses have wrong "
        "in every run no further drive can show.",
    )


def end_reason(at_end: str, law: KnobLaw, target: float) -> str:
    """Say that the knob cannot reach the target.

    Parameters
    ----------
    at_end : str
        ``soft`` or ``stiff``.
    law : KnobLaw
        Belief about every click.
    target : float
        Damping ratio wanted [1].
    """
    reach = law.damping_ratio[-1 if at_end == "stiff" else 0]
    remedy = "firmer" if at_end == "stiff" else "softer"
    return (
        f"The knob cannot reach the target: full {at_end} gives about {reach:.2f}, wanted is "
        f"{target:g}. That takes {remedy} valving or other dampers, or other springs: the damping "
        "ratio falls as springs get stiffer."
    )


def history_reasons(history: KnobHistory, advice: KnobAdvice) -> tuple[str, ...]:
    """Say what is special about the runs used.

    Parameters
    ----------
    history : KnobHistory
        The readings.
    advice : KnobAdvice
        The advice.
    """
    reasons: list[str] = []
    if any(reading.carry_sd > 0 for reading in history.readings):
        reasons.append(
            "Runs on other springs are used too: the damper's coefficient is kept and the damping "
            "ratio converted to the springs fitted now."
        )
    if history.prior.sheet:
        reasons.append(SHEET_REASON)
    if history.now is not None and history.now[0] != history.now[1]:
        reasons.append(
            "Left and right stood at different clicks; the axle shows their mean. Set both alike."
        )
    if advice.disagree:
        reasons.append(
            "The runs contradict each other: check the clicks noted for each, tyre pressure, load "
            "and a damper that fades when hot."
        )
    return tuple(reasons)


def unused_runs_reason(files: Sequence[str], why: str) -> str | None:
    """Name runs that were left out, or None.

    Parameters
    ----------
    files : sequence of str
        Their logs.
    why : str
        The reason, completing "not used: ".
    """
    return f"{', '.join(files)} not used: {why}." if files else None


def _chance(probability: float) -> str:
    """Say a probability without claiming certainty."""
    percent = round(100 * min(max(probability, 0.01), 0.99))
    return f"{percent} %"
