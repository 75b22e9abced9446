"""The next run in one sentence: what to set, and how to drive."""

from __future__ import annotations

from collections.abc import Mapping

from ridelog.advise.knob_part import KNOBS, knob_label
from ridelog.advise.result import AxleAdvice
from ridelog.advise.tired_dampers import CORNER_WORDS
from ridelog.advise.wording import click_words
from ridelog.car.description import Axle, Car
from ridelog.recording import AXLES

HOW_TO_DRIVE = (
    "drive the same stretch as before for 3 minutes at steady speeds, and note the settings in the "
    "setup file beside the log"
)


def next_run_sentence(car: Car, axles: Mapping[str, AxleAdvice], *, done: bool) -> str:
    """Say what to set and how to drive next.

    Parameters
    ----------
    car : Car
        The car.
    axles : mapping of AxleAdvice
        Advice by axle.
    done : bool
        Whether both axles are done.
    """
    if done:
        return (
            f"Nothing is left to turn. After any other change, and once in a while, {HOW_TO_DRIVE}."
        )
    if all(_lacks_target(axles[name], car.axle(name)) for name in AXLES):
        return (
            "Write target_damping_ratio for front and rear into the car file and ask again; that "
            "takes no new drive."
        )
    parts = [_axle_part(name, axles[name], car.axle(name)) for name in AXLES]
    what = "; ".join(parts)
    return f"{what[:1].upper()}{what[1:]}; then {HOW_TO_DRIVE}."


def _axle_part(name: str, advice: AxleAdvice, axle: Axle) -> str:
    """Say what to set on one axle."""
    if advice.weak_corner is not None:
        corner = CORNER_WORDS[advice.weak_corner]
        return f"{name}: leave the knobs and see to the {corner} damper first"
    if _lacks_target(advice, axle):
        return f"{name}: write its target_damping_ratio into the car file"
    if advice.state == "unknown":
        return f"{name}: leave it"
    settings = [
        knob_label(axle, knob) + click_words(axle, change.next, knob)
        for knob, change in zip(
            KNOBS, (advice.clicks, advice.bump_clicks, advice.rebound_clicks), strict=True
        )
        if change is not None and change.next is not None
    ]
    if not settings:
        return _without_clicks(name, advice, axle)
    verb = "set" if advice.state == "turn" else "leave"
    return f"{verb} the {name} at {', '.join(settings)}, left and right alike"


def _lacks_target(advice: AxleAdvice, axle: Axle) -> bool:
    return advice.state == "unknown" and axle.target_damping_ratio is None


def _without_clicks(name: str, advice: AxleAdvice, axle: Axle) -> str:
    """Say what to do where clicks are not known."""
    if advice.direction is None:
        return f"{name}: leave it"
    if not any(getattr(axle, knob) for knob in KNOBS):
        return f"{name}: go {advice.direction}"
    return f"{name}: go {advice.direction} and count the clicks from the end of the knob"
