"""The knobs of one axle: which kind it has, and what to do with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ridelog.advise.double_knobs import TwoKnobAdvice, advise_two_knobs, side_targets
from ridelog.advise.high_speed_knobs import high_speed_reasons
from ridelog.advise.knob_direction import direction_only
from ridelog.advise.knob_law_words import law_reason, measured_reason, unproven_reason
from ridelog.advise.knob_part import (
    NOT_KNOWN,
    KnobPart,
    knob_label,
    single_knob,
    unmoved,
    where_words,
)
from ridelog.advise.knob_words import (
    SHEET_REASON,
    choice_reasons,
    end_reason,
    history_reasons,
    still_reasons,
    turn_reasons,
)
from ridelog.advise.knobs import KnobAdvice, advise_knob, clicks_on_other_spring
from ridelog.advise.readings import Knob, KnobHistory, knob_history
from ridelog.advise.result import Change
from ridelog.advise.wording import click_words
from ridelog.car.description import Axle, Car
from ridelog.runs.collect import Run


def axle_knobs(
    car: Car, runs: Sequence[Run], axle_name: str, spring_ratio: float | None
) -> KnobPart:
    """Advise the knobs of one axle from all its runs.

    Parameters
    ----------
    car : Car
        The car.
    runs : sequence of Run
        Oldest first; those that may be used for the knobs.
    axle_name : str
        ``front`` or ``rear``.
    spring_ratio : float or None
        Rate of the advised spring over that of today's [1]; None where none is advised.

    Returns
    -------
    KnobPart
        Clicks where the axle's knobs and their present places are known, else the direction.

    References
    ----------
    Derived here.
    """
    axle = car.axle(axle_name)
    target = axle.target_damping_ratio
    measured = [
        (run, result.damping_ratio)
        for run in runs
        if (result := run.analysis.axles.get(axle_name)) and result.damping_ratio
    ]
    if not measured:
        return KnobPart(
            state="unknown",
            clicks=unmoved(runs, axle_name),
            reasons=("No run tells the damping of this axle; the notes of each log say why.",),
        )
    if target is None:
        why = (
            "The car file names no target_damping_ratio for this axle, so no click is advised "
            "(0.2-0.4 for comfort, 0.3 a usual compromise: common practice)."
        )
        return KnobPart(state="unknown", clicks=unmoved(runs, axle_name), reasons=(why,))
    run, latest = measured[-1]
    part = _with_clicks(car, runs, axle_name, target, spring_ratio)
    part = part or direction_only(axle, runs, axle_name, latest, target)
    where = where_words(axle, run, axle_name)
    first = measured_reason(latest, target, run.file, where)
    beside = high_speed_reasons(axle, axle_name, runs)
    return replace(part, reasons=(first, *part.reasons, *beside))


def _with_clicks(
    car: Car, runs: Sequence[Run], axle_name: str, target: float, spring_ratio: float | None
) -> KnobPart | None:
    """Advice in clicks, or None where a knob or its present place is not known."""
    axle = car.axle(axle_name)
    if axle.bump_clicks and axle.rebound_clicks:
        return _two_knobs(car, runs, axle_name, target)
    knob = single_knob(axle)
    if knob is None:
        return None
    return _one_knob(car, runs, axle_name, knob, target, spring_ratio)


def _one_knob(
    car: Car,
    runs: Sequence[Run],
    axle_name: str,
    knob: Knob,
    target: float,
    spring_ratio: float | None,
) -> KnobPart | None:
    """One knob, for both strokes or for one with the other fixed."""
    history = knob_history(car, runs, axle_name, knob=knob)
    advice = advise_knob(history, target) if history else None
    if history is None or advice is None or history.now is None:
        return None
    axle, choice = car.axle(axle_name), advice.choice
    now = sum(history.now) / 2
    change = Change(now=now, next=choice.next)
    return KnobPart(
        state=choice.state,
        reasons=(
            law_reason(advice.law, round(now), len(history.readings), axle, knob),
            *_choice_words(advice, axle, target, knob),
            *history_reasons(history, advice),
            *_not_proven(runs, axle_name, history, advice),
        ),
        clicks=change if knob == "clicks" else NOT_KNOWN,
        bump_clicks=change if knob == "bump_clicks" else None,
        rebound_clicks=change if knob == "rebound_clicks" else None,
        predicted=advice.predicted,
        probability=choice.probability_next,
        law=advice.law,
        direction=_direction(choice.next - now),
        clicks_with_next_spring=_with_spring(history, choice.next, knob, target, spring_ratio),
    )


def _not_proven(
    runs: Sequence[Run], axle_name: str, history: KnobHistory, advice: KnobAdvice
) -> tuple[str, ...]:
    """Say where the latest reading is wider than a click."""
    result = runs[-1].analysis.axles.get(axle_name)
    if result is None or result.damping_ratio is None or history.now is None:
        return ()
    now = round(sum(history.now) / 2)
    words = unproven_reason(result.damping_ratio, advice.law, now, history.readings[-1].sd)
    return () if words is None else (words,)


def _with_spring(
    history: KnobHistory, following: int, knob: Knob, target: float, spring_ratio: float | None
) -> int | None:
    """Click that goes with the advised spring; the click advised anyway where springs stay."""
    if spring_ratio is None or knob != "clicks":
        return None
    if spring_ratio == 1:
        return following
    return clicks_on_other_spring(history, target, spring_ratio)


def _choice_words(advice: KnobAdvice, axle: Axle, target: float, knob: Knob) -> tuple[str, ...]:
    """Reasons for the choice; at the end of the knob, that it cannot reach."""
    if advice.at_end is not None:
        return ("Done as far as the knob goes.", end_reason(advice.at_end, advice.law, target))
    return choice_reasons(advice.choice, advice.predicted, axle, knob)


def _two_knobs(car: Car, runs: Sequence[Run], axle_name: str, target: float) -> KnobPart | None:
    """Choose a knob for bump and one for rebound together."""
    axle = car.axle(axle_name)
    bump = knob_history(
        car,
        runs,
        axle_name,
        knob="bump_clicks",
        quantity="damping_ratio_bump",
        other_knob="rebound_clicks",
    )
    rebound = knob_history(
        car,
        runs,
        axle_name,
        knob="rebound_clicks",
        quantity="damping_ratio_rebound",
        other_knob="bump_clicks",
    )
    if bump is None or rebound is None:
        return None
    advice = advise_two_knobs(bump, rebound, side_targets(target))
    if advice is None:
        return None
    by_sheet = bool(bump.prior.sheet or rebound.prior.sheet)
    moves = [following - now for now, following in (advice.bump, advice.rebound)]
    return KnobPart(
        state=advice.choice.state,
        reasons=_pair_reasons(axle, advice, by_sheet=by_sheet),
        bump_clicks=Change(now=advice.bump[0], next=advice.bump[1]),
        rebound_clicks=Change(now=advice.rebound[0], next=advice.rebound[1]),
        predicted=advice.predicted[2],
        side_laws=dict(zip(("bump", "rebound"), advice.laws, strict=True)),
        probability=advice.choice.probability_next,
        direction=_direction(sum(moves)) if moves[0] * moves[1] >= 0 else None,
    )


def _pair_reasons(axle: Axle, advice: TwoKnobAdvice, *, by_sheet: bool) -> tuple[str, ...]:
    """Reasons for a pair of clicks."""
    knobs: tuple[tuple[Knob, int], ...] = (
        ("bump_clicks", advice.bump[1]),
        ("rebound_clicks", advice.rebound[1]),
    )
    place = ", ".join(
        f"{knob_label(axle, knob)}{click_words(axle, click, knob)}" for knob, click in knobs
    )
    sides = (
        f"Wanted: bump {advice.targets[0]:.2f}, rebound {advice.targets[1]:.2f}, mean as in the "
        "car file (rebound two to three times bump is common practice); both knobs are chosen "
        "together, as each leaks into the other side."
    )
    if by_sheet:
        sides = f"{sides} {SHEET_REASON}"
    choice = advice.choice
    if choice.state == "turn":
        return (sides, *turn_reasons(choice, advice.predicted[2], place))
    return (sides, *still_reasons(choice, place))


def _direction(clicks: float) -> str | None:
    """Which way a turn goes."""
    if clicks == 0:
        return None
    return "stiffer" if clicks > 0 else "softer"
