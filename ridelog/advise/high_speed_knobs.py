"""What the high-speed knobs of a damper with two knobs a stroke are for, and what they give now."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from ridelog.advise.dyno_law import click_effect
from ridelog.advise.stops import bump_stop_evidence
from ridelog.car.description import Axle
from ridelog.estimate.result import AnalysisResult
from ridelog.recording import CORNERS_OF_AXLE
from ridelog.runs.collect import Run
from ridelog.runs.setup import RunSetup

HIGH_SPEEDS_M_PER_S = (0.3, 0.2)
"""Damper speeds at which high-speed valving works, fastest first: common practice, no source."""

LOW_SPEED_M_PER_S = 0.05
"""Where the damping ratio is counted."""

STROKES: tuple[Literal["bump", "rebound"], ...] = ("bump", "rebound")
KNOBS = tuple(f"high_speed_{stroke}_clicks" for stroke in STROKES)


def high_speed_reasons(axle: Axle, axle_name: str, runs: Sequence[Run]) -> tuple[str, ...]:
    """Say what the high-speed knobs rule, what is measured of it, and when to turn them.

    Parameters
    ----------
    axle : Axle
        The axle.
    axle_name : str
        ``front`` or ``rear``.
    runs : sequence of Run
        Oldest first, at least one.

    Returns
    -------
    tuple of str
        Empty where the dampers have no such knob.

    Notes
    -----
    Low-speed knobs serve the damping ratio, which is counted at 0.05 m/s; high-speed knobs serve
    the force at 0.2 to 0.3 m/s. How much of that an owner wants is taste, so no click is advised.

    References
    ----------
    Common practice, no source.
    """
    if not any(getattr(axle, knob) for knob in KNOBS):
        return ()
    latest = runs[-1].analysis
    hit = axle.high_speed_bump_clicks and bump_stop_evidence(axle, axle_name, latest)
    use = (
        "The bump stops are hit: two clicks more high-speed bump is the usual first step; drive "
        "again and count the contacts (common practice)."
        if hit
        else "Leave them while the low-speed knobs are being found; afterwards less high-speed "
        "bump softens sharp edges, more keeps the wheel off its stop (common practice)."
    )
    return (
        "The clicks advised are those of the low-speed knobs, which rule the damping ratio "
        "(counted at 0.05 m/s at the damper). The high-speed knobs rule the force at 0.2 to 0.3 "
        f"m/s, on sharp edges. {_measured(latest, axle_name)}{_by_sheet(axle)} {use}",
        *_moved(runs, axle_name),
    )


def _measured(result: AnalysisResult, axle_name: str) -> str:
    """Say the force at high speed and how far it lies below a straight line through low speed."""
    for speed in HIGH_SPEEDS_M_PER_S:
        found = [
            (stroke, _force(result, axle_name, sign * speed), low)
            for stroke, sign in (("bump", 1), ("rebound", -1))
            if (low := _force(result, axle_name, sign * LOW_SPEED_M_PER_S))
        ]
        told = [
            f"{force:.0f} N in {stroke}, {100 * force * LOW_SPEED_M_PER_S / (low * speed):.0f} % "
            "of a straight line through 0.05 m/s"
            for stroke, force, low in found
            if force
        ]
        if told:
            return f"Measured at {speed:g} m/s: {'; '.join(told)}."
    return "This log reached no such damper speed, so nothing is measured of them."


def _by_sheet(axle: Axle) -> str:
    """Say what a click of each high-speed knob does by the dyno sheet; empty where it is silent."""
    for speed in HIGH_SPEEDS_M_PER_S:
        told = [
            f"{100 * high:.0f} % of the {stroke} force there and {100 * low:.0f} % at 0.05 m/s"
            for stroke in STROKES
            if (high := click_effect(axle, f"high_speed_{stroke}_clicks", stroke, speed))
            is not None
            and (
                low := click_effect(axle, f"high_speed_{stroke}_clicks", stroke, LOW_SPEED_M_PER_S)
            )
            is not None
        ]
        if told:
            return f" By the dyno sheet a click of them does, at {speed:g} m/s: {'; '.join(told)}."
    return ""


def _force(result: AnalysisResult, axle_name: str, speed_mps: float) -> float | None:
    """Size of the damper force at one signed speed [N], mean of left and right."""
    forces = [
        abs(point.force_n.value)
        for corner in CORNERS_OF_AXLE[axle_name]
        if (found := result.corners.get(corner))
        for point in found.damper_force
        if abs(point.speed_mps - speed_mps) < 1e-6
    ]
    return sum(forces) / len(forces) if forces else None


def _moved(runs: Sequence[Run], axle_name: str) -> tuple[str, ...]:
    """Name the runs whose high-speed knobs stood elsewhere than today."""
    today = _places(runs[-1].setup, axle_name)
    others = [
        run.file for run in runs if today and _places(run.setup, axle_name) not in ((), today)
    ]
    if not others:
        return ()
    return (
        f"The high-speed knobs stood elsewhere in {', '.join(others)}; the damping at 0.05 m/s is "
        "used all the same, as they rule it little.",
    )


def _places(setup: RunSetup | None, axle_name: str) -> tuple[int, ...]:
    """Clicks of the high-speed knobs of one axle; empty where nothing was written."""
    if setup is None:
        return ()
    return tuple(
        clicks[corner]
        for clicks in (getattr(setup, knob) for knob in KNOBS)
        for corner in CORNERS_OF_AXLE[axle_name]
        if corner in clicks
    )
