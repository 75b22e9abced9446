"""What the advice for one axle says about its knobs, and where they stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ridelog.advise.readings import Knob, clicks_of
from ridelog.advise.result import Change, KnobLaw
from ridelog.advise.wording import click_words
from ridelog.car.description import Axle
from ridelog.estimate.result import Estimate
from ridelog.runs.collect import Run

KNOBS: tuple[Knob, ...] = ("clicks", "bump_clicks", "rebound_clicks")
NOT_KNOWN = Change(now=None, next=None)


def knob_label(axle: Axle, knob: Knob) -> str:
    """Name a knob: ``bump ``, ``low-speed bump ``; empty for the only one.

    Parameters
    ----------
    axle : Axle
        The axle.
    knob : str
        ``clicks``, ``bump_clicks`` or ``rebound_clicks``.

    References
    ----------
    Low-speed and high-speed knobs: common practice, no source.
    """
    if knob == "clicks":
        return ""
    stroke = knob.removesuffix("_clicks")
    two = getattr(axle, f"high_speed_{knob}")
    return f"low-speed {stroke} " if two else f"{stroke} "


@dataclass(frozen=True, slots=True, kw_only=True)
class KnobPart:
    """What the advice for one axle says about its knobs; names as in `AxleAdvice`."""

    state: str
    reasons: tuple[str, ...]
    clicks: Change = NOT_KNOWN
    bump_clicks: Change | None = None
    rebound_clicks: Change | None = None
    predicted: Estimate | None = None
    probability: float | None = None
    law: KnobLaw | None = None
    side_laws: Mapping[str, KnobLaw] = field(default_factory=dict)
    direction: str | None = None
    clicks_with_next_spring: int | None = None


def unmoved(runs: Sequence[Run], axle_name: str) -> Change:
    """Give the present clicks of an axle without a next place.

    Parameters
    ----------
    runs : sequence of Run
        Oldest first, at least one.
    axle_name : str
        ``front`` or ``rear``.
    """
    clicks = clicks_of(runs[-1].setup, axle_name, "clicks")
    return NOT_KNOWN if clicks is None else Change(now=sum(clicks) / 2, next=None)


def single_knob(axle: Axle) -> Knob | None:
    """Name the only knob of an axle's dampers; None where there is none, or one for each stroke.

    Parameters
    ----------
    axle : Axle
        The axle.
    """
    present = [knob for knob in KNOBS if getattr(axle, knob)]
    return present[0] if len(present) == 1 else None


def where_words(axle: Axle, run: Run, axle_name: str) -> str | None:
    """Say where the knobs stood in a run, or None where that is not known.

    Parameters
    ----------
    axle : Axle
        The axle.
    run : Run
        The run.
    axle_name : str
        ``front`` or ``rear``.
    """
    places = [
        knob_label(axle, knob) + click_words(axle, sum(clicks) / 2, knob)
        for knob in KNOBS
        if getattr(axle, knob) and (clicks := clicks_of(run.setup, axle_name, knob))
    ]
    return ", ".join(places) or None
