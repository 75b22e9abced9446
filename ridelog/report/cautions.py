"""The cautions shown with an analysis or a check; those with advice come with the advice."""

from __future__ import annotations

from ridelog.advise.cautions import ALWAYS, LAW, STOPS
from ridelog.estimate.result import AnalysisResult


def analysis_cautions(result: AnalysisResult) -> tuple[str, ...]:
    """Cautions that go with an analysis; a car that hits its bump stops gets that one first.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    """
    stops = (corner.bump_stop for corner in result.corners.values())
    hit = any(stop is not None and stop.contacts for stop in stops)
    return (*((STOPS,) if hit else ()), *ALWAYS, LAW)


def check_cautions() -> tuple[str, ...]:
    """Cautions that go with a check of the sensors."""
    return (*ALWAYS, LAW)
