"""Stops that are hit, and what helps, in plain words."""

from __future__ import annotations

from ridelog.advise.stop_remedies import StopRemedy
from ridelog.advise.stops import StopEvidence, StopSettings
from ridelog.estimate.result import AnalysisResult
from ridelog.recording import CORNERS_OF_AXLE


def stop_reasons(
    evidence: StopEvidence, remedies: tuple[StopRemedy, ...], settings: StopSettings | None = None
) -> tuple[str, ...]:
    """Say what was hit and what to do, in order.

    Parameters
    ----------
    evidence : StopEvidence
        The contacts.
    remedies : tuple of StopRemedy
        Best first.
    settings : StopSettings, optional
        What counts as seldom.
    """
    settings = settings or StopSettings()
    depth = "" if evidence.deepest_mm is None else f", up to {evidence.deepest_mm:.0f} mm deep"
    times = "once" if evidence.contacts == 1 else f"{evidence.contacts} times"
    hit = f"Bump stops hit {times} ({', '.join(evidence.corners)}{depth}{_hardness(evidence)})."
    if evidence.contacts > 1:
        hit += f" That is {_often(evidence)}."
    if evidence.travel_share is not None:
        hit += (
            f" At ride height {100 * evidence.travel_share:.0f} % of the damper's free travel is "
            "left for bump."
        )
    if evidence.per_minute < settings.seldom_per_minute:
        hit += " That is seldom: after one pothole nothing needs doing."
    if evidence.per_minute > settings.often_per_minute:
        hit += (
            " That often, stops pass for damping: do not trust this run's damping, drive slower or "
            "on a smoother road."
        )
    ranked = [
        f"{place}. {remedy.action}: {remedy.evidence}.{_replay_words(remedy)}"
        for place, remedy in enumerate(remedies, start=1)
    ]
    return hit, f"Against it, best first: {ranked[0]}", *ranked[1:]


def top_out_reason(
    axle_name: str, result: AnalysisResult, settings: StopSettings | None = None
) -> str | None:
    """Say that the dampers reach full droop, or None.

    Parameters
    ----------
    axle_name : str
        ``front`` or ``rear``.
    result : AnalysisResult
        One run's analysis.
    settings : StopSettings, optional
        What counts.
    """
    settings = settings or StopSettings()
    count = sum(
        contact.probability >= settings.least_probability
        for corner in CORNERS_OF_AXLE[axle_name]
        if corner in result.corners and (stop := result.corners[corner].top_out) is not None
        for contact in stop.contacts
    )
    if not count:
        return None
    times = "once" if count == 1 else f"{count} times"
    return (
        f"The dampers reached full droop {times}: a little more rebound damping or a lower ride "
        "height leaves more droop (common practice)."
    )


def _hardness(evidence: StopEvidence) -> str:
    """Say how fast the hardest touch was."""
    if evidence.fastest_mps is None:
        return ""
    return f", at up to {evidence.fastest_mps:.1f} m/s damper speed"


def _often(evidence: StopEvidence) -> str:
    """Say how often stops were hit."""
    often = f"{evidence.per_minute:.2g} a minute"
    return often if evidence.per_km is None else f"{often}, {evidence.per_km:.2g} a kilometre"


def _replay_words(remedy: StopRemedy) -> str:
    """Say what a remedy would have avoided of this drive's contacts."""
    found = remedy.replay
    if found is None or not remedy.amount:
        return ""
    count = f"{found.avoided_high}"
    if found.avoided_low < found.avoided_high:
        count = f"{found.avoided_low} to {found.avoided_high}"
    amount = remedy.amount[0].upper() + remedy.amount[1:]
    return f" {amount}: would have avoided {count} of {found.contacts}."
