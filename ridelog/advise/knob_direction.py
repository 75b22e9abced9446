"""Which way to go where clicks are not known."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.advise.knob_choice import ChoiceRule
from ridelog.advise.knob_odds import chance_within
from ridelog.advise.knob_part import KNOBS, KnobPart, unmoved
from ridelog.advise.readings import clicks_of, reading_spread
from ridelog.car.description import Axle
from ridelog.estimate.result import Estimate
from ridelog.runs.collect import Run


def direction_only(
    axle: Axle, runs: Sequence[Run], axle_name: str, latest: Estimate, target: float
) -> KnobPart:
    """Tell which way to go where clicks are not known; done where one reading is near enough.

    Parameters
    ----------
    axle : Axle
        The axle.
    runs : sequence of Run
        Oldest first.
    axle_name : str
        ``front`` or ``rear``.
    latest : Estimate
        Latest damping ratio [1].
    target : float
        Damping ratio wanted [1].

    References
    ----------
    Derived here.
    """
    own, lasting = reading_spread(latest)
    share = chance_within(latest.value, (own**2 + lasting**2) ** 0.5, target)
    close = share >= ChoiceRule().stop_probability
    why = _why_no_clicks(axle, runs, axle_name)
    if close:
        words = f"Near enough as it is ({100 * share:.0f} % within 10 % of the target)."
        return KnobPart(state="done", reasons=(why, words), probability=share, predicted=latest)
    direction = "stiffer" if latest.value < target else "softer"
    words = f"Without known clicks only the direction can be told: {direction}."
    return KnobPart(
        state="turn", reasons=(why, words), direction=direction, clicks=unmoved(runs, axle_name)
    )


def _why_no_clicks(axle: Axle, runs: Sequence[Run], axle_name: str) -> str:
    """Say why no click can be named."""
    setup = runs[-1].setup
    if not any(getattr(axle, knob) for knob in KNOBS):
        if clicks_of(setup, axle_name, "clicks"):
            return (
                f"The setup names {axle_name} clicks, but the car file does not say how many there "
                f"are: add clicks = (highest click number) under [{axle_name}]."
            )
        return (
            "The car file names no knob for this axle (clicks = highest click number); if the "
            "dampers have none, it takes other valving."
        )
    stem = runs[-1].file.split(".")[0]
    if setup is None:
        return f"The latest run has no setup file; write {stem}.setup.toml with its clicks."
    return f"The setup file of {runs[-1].file} does not name the {axle_name} clicks; add them."
