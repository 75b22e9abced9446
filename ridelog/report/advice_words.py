"""The advice in words: what to turn first, what it will do, and why."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.advise.knob_part import knob_label
from ridelog.advise.readings import Knob
from ridelog.advise.result import Advice, AxleAdvice, Change
from ridelog.advise.tired_dampers import CORNER_WORDS
from ridelog.advise.wording import rate_words
from ridelog.car.description import Axle, Car
from ridelog.recording import AXLES
from ridelog.report.clicks import direction_words, owner_count, turn_words
from ridelog.report.numbers import estimate_words, plain
from ridelog.report.quantities import spoken

SPRING_CHANGE_RATIO = 0.005
"""Spring rates closer than this are the same spring: far below any maker's step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleWords:
    """One axle's advice: `action` is the line to read under the car, `detail` which way it goes.

    `facts` are pairs of label and words.
    """

    name: str
    action: str
    detail: str
    state: str
    facts: tuple[tuple[str, str], ...]
    reasons: tuple[str, ...]


def axle_words(name: str, advice: AxleAdvice, axle: Axle) -> AxleWords:
    """Word the advice for one axle.

    Parameters
    ----------
    name : str
        ``front`` or ``rear``.
    advice : AxleAdvice
        The advice.
    axle : Axle
        The axle, with its targets and its owner's way of counting clicks.
    """
    return AxleWords(
        name=name.capitalize(),
        action=_action(advice, axle),
        detail=_detail(advice, axle),
        state=advice.state,
        facts=(*_damping_facts(advice, axle), *_spring_facts(advice, axle)),
        reasons=tuple(spoken(reason) for reason in advice.reasons),
    )


def all_axle_words(advice: Advice, car: Car) -> tuple[AxleWords, ...]:
    """Word the advice for both axles, front first.

    Parameters
    ----------
    advice : Advice
        The advice.
    car : Car
        The car.
    """
    return tuple(
        axle_words(name, advice.axles[name], car.axle(name))
        for name in AXLES
        if name in advice.axles
    )


def _knob_changes(advice: AxleAdvice, axle: Axle) -> tuple[tuple[str, str, Change], ...]:
    # Label, knob name and change; a damper with two knobs has no plain one.
    pairs: tuple[tuple[Knob, Change | None], ...] = (
        ("bump_clicks", advice.bump_clicks),
        ("rebound_clicks", advice.rebound_clicks),
    )
    two = tuple(
        (knob_label(axle, knob).rstrip(), knob, change)
        for knob, change in pairs
        if change is not None
    )
    return two or (("", "clicks", advice.clicks),)


def _only_direction(advice: AxleAdvice, axle: Axle) -> bool:
    clicks_known = any(change.next is not None for _, _, change in _knob_changes(advice, axle))
    return advice.direction is not None and not clicks_known


def _action(advice: AxleAdvice, axle: Axle) -> str:
    if advice.weak_corner is not None:
        return f"see to the {CORNER_WORDS[advice.weak_corner]} damper first"
    if advice.state == "unknown":
        return "nothing measured yet" if axle.target_damping_ratio else "no target in the car file"
    if _only_direction(advice, axle):
        return f"go {advice.direction}"
    turns = "; ".join(
        f"{label}: {turn_words(axle, change, knob)}" if label else turn_words(axle, change, knob)
        for label, knob, change in _knob_changes(advice, axle)
    )
    return {"done": f"done, {turns}", "repeat": f"{turns}, drive once more"}.get(
        advice.state, turns
    )


def _detail(advice: AxleAdvice, axle: Axle) -> str:
    if advice.weak_corner is not None:
        return "leave the knobs until then"
    if _only_direction(advice, axle):
        if not (axle.clicks or axle.bump_clicks or axle.rebound_clicks):
            return "the car file names no knob"
        return "count the clicks from the end of the knob and note them"
    ways = (
        f"{label} {direction_words(change)}".lstrip()
        for label, _, change in _knob_changes(advice, axle)
        if direction_words(change)
    )
    return "; ".join(ways)


def _damping_facts(advice: AxleAdvice, axle: Axle) -> tuple[tuple[str, str], ...]:
    facts = []
    if advice.predicted_damping_ratio is not None:
        expected = f"damping ratio {estimate_words(advice.predicted_damping_ratio)}"
        if axle.target_damping_ratio is not None:
            expected += f", target {plain(axle.target_damping_ratio)}"
        facts.append(("expect", expected))
    if advice.probability_within_10_percent is not None:
        chance = 100 * advice.probability_within_10_percent
        facts.append(("chance", f"{chance:.0f} % to come within 10 % of the target"))
    return tuple(facts)


def _spring_facts(advice: AxleAdvice, axle: Axle) -> tuple[tuple[str, str], ...]:
    facts = []
    spring = advice.spring_rate_n_per_m
    if _changes(spring):
        facts.append(("later", _spring_words(advice, axle)))
    if advice.predicted_body_frequency_hz is not None:
        words = f"body frequency {estimate_words(advice.predicted_body_frequency_hz, 'Hz')}"
        if axle.target_body_frequency_hz is not None:
            words += f", target {plain(axle.target_body_frequency_hz)} Hz"
        facts.append(("with it" if _changes(spring) else "springs", words))
    if advice.perch_turns:
        direction = "up" if advice.perch_turns > 0 else "down"
        turns = f"{abs(advice.perch_turns):.1f} turns {direction} to keep the ride height"
        facts.append(("perch", turns))
    return tuple(facts)


def _changes(spring: Change) -> bool:
    if spring.now is None or spring.next is None:
        return False
    return abs(spring.next / spring.now - 1) > SPRING_CHANGE_RATIO


def _spring_words(advice: AxleAdvice, axle: Axle) -> str:
    spring = advice.spring_rate_n_per_m
    if spring.now is None or spring.next is None:
        return ""
    words = f"springs of {rate_words(spring.next)} in place of {rate_words(spring.now)}"
    clicks = owner_count(axle, advice.clicks_with_next_spring)
    return words if clicks is None else f"{words}, with the knob at {clicks}"
