"""Clicks as the owner counts them; inside ridelog they count from full soft."""

from __future__ import annotations

from collections.abc import Mapping

from ridelog.advise.knob_part import knob_label
from ridelog.advise.readings import Knob
from ridelog.advise.result import Change, RunSummary
from ridelog.car.description import Axle

KNOBS = ("clicks", "bump_clicks", "rebound_clicks")


def owner_count(axle: Axle, clicks: float | None, knob: str = "clicks") -> int | None:
    """Count a click position the way the owner does.

    Parameters
    ----------
    axle : Axle
        The axle; says from which end its owner counts and how many clicks the knob has.
    clicks : float or None
        Position counted from full soft.
    knob : str
        ``clicks``, ``bump_clicks`` or ``rebound_clicks``.

    Returns
    -------
    int or None
        None where the position, or the number of clicks needed to count from full stiff, is not
        known.
    """
    if clicks is None:
        return None
    if axle.clicks_from == "soft":
        return round(clicks)
    highest = {
        "clicks": axle.clicks,
        "bump_clicks": axle.bump_clicks,
        "rebound_clicks": axle.rebound_clicks,
    }[knob]
    return None if highest is None else highest - round(clicks)


def turn_words(axle: Axle, change: Change, knob: str = "clicks") -> str:
    """Say what to do with a knob: ``turn 6 -> 9``, ``stay at 6``, ``set to 6``.

    Parameters
    ----------
    axle : Axle
        The axle the knob belongs to.
    change : Change
        Position now and next, counted from full soft.
    knob : str
        ``clicks``, ``bump_clicks`` or ``rebound_clicks``.
    """
    now, following = owner_count(axle, change.now, knob), owner_count(axle, change.next, knob)
    if following is None:
        return "leave the knob" if now is None else f"stay at {now}"
    if now is None:
        return f"set to {following}"
    return f"stay at {now}" if now == following else f"turn {now} -> {following}"


def direction_words(change: Change) -> str:
    """Say which way a turn goes: ``3 clicks stiffer``; empty where nothing turns.

    Parameters
    ----------
    change : Change
        Position now and next, counted from full soft.
    """
    if change.now is None or change.next is None or round(change.now) == round(change.next):
        return ""
    count = round(change.next) - round(change.now)
    clicks = "click" if abs(count) == 1 else "clicks"
    return f"{abs(count)} {clicks} {'stiffer' if count > 0 else 'softer'}"


def counting_words(axle: Axle) -> str:
    """Say from which end the owner of this axle counts.

    Parameters
    ----------
    axle : Axle
        The axle.
    """
    return f"clicks count from full {axle.clicks_from}"


def knob_words(axle: Axle, run: RunSummary, corners: tuple[str, str]) -> str:
    """Say where an axle's knobs stood in a run: ``6 clicks``, or left and right where they differ.

    Parameters
    ----------
    axle : Axle
        The axle.
    run : RunSummary
        The run.
    corners : tuple of str
        The axle's left and right corner.
    """
    settings: tuple[tuple[Knob, Mapping[str, int | None]], ...] = (
        ("clicks", run.clicks),
        ("bump_clicks", run.bump_clicks),
        ("rebound_clicks", run.rebound_clicks),
    )
    words = []
    for knob, clicks in settings:
        left, right = (owner_count(axle, clicks.get(corner), knob) for corner in corners)
        if left is None and right is None:
            continue
        both = (
            f"{left}" if left == right else f"left {_or_unknown(left)}, right {_or_unknown(right)}"
        )
        words.append(f"{knob_label(axle, knob)}{both} clicks")
    return "; ".join(words)


def _or_unknown(count: int | None) -> str:
    return "unknown" if count is None else str(count)
