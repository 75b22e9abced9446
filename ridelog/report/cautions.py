"""The cautions shown with every result, in one place."""

from __future__ import annotations

from ridelog.estimate.result import AnalysisResult

DRIVING = (
    "Drive within the law and your own limits. Start the recording before you set off and look at "
    "it after you stop: never watch a screen while driving."
)
UNDER_THE_CAR = (
    "Turn knobs and perches with the car on level ground, handbrake on, wheels chocked. Under the "
    "car only with it on rated stands, never on a jack alone."
)
SPRINGS = (
    "A compressed spring can kill. Change springs with the right compressor, or leave it to a "
    "licensed workshop."
)
STOPS = (
    "This car hit its stops. Hard contacts break dampers and mounts and can throw the car off "
    "line: slow down on such roads until springs, heights or dampers are put right."
)
CLEARANCE = (
    "After a change of ride height check, at full lock and full bump, that tyres, brake lines and "
    "axle clear everything, and have alignment and headlights set."
)
LAW = (
    "Local rules and the advice of a licensed practitioner come before anything this page says; "
    "some changes need an inspection before you drive on public roads."
)


def analysis_cautions(result: AnalysisResult) -> tuple[str, ...]:
    """Cautions that go with an analysis; hard contacts put theirs first.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    """
    stops = (
        stop for corner in result.corners.values() for stop in (corner.bump_stop, corner.top_out)
    )
    hit = any(stop is not None and stop.contacts for stop in stops)
    return (*((STOPS,) if hit else ()), DRIVING, UNDER_THE_CAR, LAW)


def check_cautions() -> tuple[str, ...]:
    """Cautions that go with a check of the sensors."""
    return (DRIVING, UNDER_THE_CAR, LAW)
