"""Bump stops hit: what to do about it, best first, with the evidence for each remedy."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.advise.springs import SpringAdvice
from ridelog.car.description import Axle
from ridelog.estimate.result import AnalysisResult, Contact
from ridelog.recording import CORNERS_OF_AXLE


@dataclass(frozen=True, slots=True, kw_only=True)
class StopSettings:
    """What counts as little or much; common practice, no source."""

    least_probability: float = 0.5  # contacts less certain are not counted
    short_gap_mm: float = 30.0  # at the damper; road cars commonly keep 40 mm and more
    shallow_mm: float = 5.0  # the soft first part of a rubber stop
    gap_doubt_mm: float = 4.0  # measured less than stated by more: the car has sagged
    seldom_per_minute: float = 0.3
    often_per_minute: float = 20.0  # both corners; on simulated drives the damping then reads wrong


@dataclass(frozen=True, slots=True, kw_only=True)
class StopEvidence:
    """Bump-stop contacts of one axle in one run. Depth and gaps in mm at the damper."""

    corners: tuple[str, ...]
    contacts: int
    per_minute: float
    deepest_mm: float | None
    measured_gap_mm: float | None
    stated_gap_mm: float | None

    @property
    def gap_mm(self) -> float | None:
        """Gap from ride height to the stop: as measured, else as stated."""
        return self.stated_gap_mm if self.measured_gap_mm is None else self.measured_gap_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class StopRemedy:
    """One remedy in words, with its evidence; the higher the score the sooner."""

    action: str
    evidence: str
    score: float


def bump_stop_evidence(
    axle: Axle, axle_name: str, result: AnalysisResult, settings: StopSettings | None = None
) -> StopEvidence | None:
    """Gather the bump-stop contacts of one axle.

    Parameters
    ----------
    axle : Axle
        The axle.
    axle_name : str
        ``front`` or ``rear``.
    result : AnalysisResult
        One run's analysis.
    settings : StopSettings, optional
        What counts.

    Returns
    -------
    StopEvidence or None
        None without contacts.

    References
    ----------
    Contract: a contact is the damper compressed past the stop's touch point.
    """
    settings = settings or StopSettings()
    hits: dict[str, list[Contact]] = {}
    gaps: list[float] = []
    for corner in CORNERS_OF_AXLE[axle_name]:
        stop = result.corners[corner].bump_stop if corner in result.corners else None
        if stop is None:
            continue
        sure = [c for c in stop.contacts if c.probability >= settings.least_probability]
        if sure:
            hits[corner] = sure
        if stop.gap_mm is not None:
            gaps.append(stop.gap_mm.value)
    if not hits:
        return None
    contacts = [contact for sure in hits.values() for contact in sure]
    depths = [c.depth_mm for c in contacts if c.depth_mm is not None]
    return StopEvidence(
        corners=tuple(hits),
        contacts=len(contacts),
        per_minute=len(contacts) / max(result.log.duration_s / 60, 1e-9),
        deepest_mm=max(depths) if depths else None,
        measured_gap_mm=min(gaps) if gaps else None,
        stated_gap_mm=None if axle.bump_gap_m is None else axle.bump_gap_m * 1000,
    )


def stop_remedies(
    evidence: StopEvidence,
    spring: SpringAdvice,
    damping_over_target: tuple[float, float] | None,
    settings: StopSettings | None = None,
) -> tuple[StopRemedy, ...]:
    """Rank what can be done about bump-stop contacts.

    Parameters
    ----------
    evidence : StopEvidence
        The contacts.
    spring : SpringAdvice
        Spring advice for the axle.
    damping_over_target : tuple of float or None
        95 % limits of damping ratio over its target [1].
    settings : StopSettings, optional
        What counts as little or much.

    Returns
    -------
    tuple of StopRemedy
        Best first: what the other measurements ask for anyway comes before what only helps here,
        and what costs nothing before what costs money.

    References
    ----------
    Common practice, no source.
    """
    settings = settings or StopSettings()
    remedies = [
        _more_damping(evidence, damping_over_target, settings),
        _raise(evidence, settings),
        _stiffer(spring),
        _shorten(evidence, settings),
    ]
    return tuple(sorted(remedies, key=lambda remedy: -remedy.score))


def _more_damping(
    evidence: StopEvidence, over_target: tuple[float, float] | None, settings: StopSettings
) -> StopRemedy:
    """Knobs cost nothing, but only help where damping is short or contacts are shallow."""
    score, why = 1.0, "damping is near its target; more would harden the ride"
    if over_target is not None and over_target[1] < 1:
        score, why = 3.0, "damping is below its target anyway, and the knob costs nothing"
    elif over_target is not None and over_target[0] > 1:
        score, why = 0.0, "damping is above its target already"
    elif evidence.deepest_mm is not None and evidence.deepest_mm <= settings.shallow_mm:
        score, why = 1.5, f"contacts are shallow, {evidence.deepest_mm:.0f} mm at most"
    return StopRemedy(action="more bump damping", evidence=why, score=score)


def _raise(evidence: StopEvidence, settings: StopSettings) -> StopRemedy:
    """Height is the cure for a short gap."""
    action = "raise the axle at its perches"
    gap, measured, stated = evidence.gap_mm, evidence.measured_gap_mm, evidence.stated_gap_mm
    if measured is not None and stated is not None and measured < stated - settings.gap_doubt_mm:
        why = f"the gap measures {measured:.0f} mm where the car file says {stated:.0f} mm"
        return StopRemedy(action=action, evidence=f"{why}: it may have sagged", score=2.8)
    if gap is not None and gap < settings.short_gap_mm:
        return StopRemedy(action=action, evidence=f"the gap is short, {gap:.0f} mm", score=2.6)
    if gap is None:
        return StopRemedy(action=action, evidence="the gap is not known; measure it", score=1.2)
    return StopRemedy(action=action, evidence=f"the gap is {gap:.0f} mm", score=1.2)


def _stiffer(spring: SpringAdvice) -> StopRemedy:
    """Judge stiffer springs: they cost money, the frequency target decides."""
    action = "stiffer springs"
    following = spring.next_n_per_m
    if spring.verdict == "change" and following is not None:
        if following > spring.now_n_per_m:
            why = "the body frequency is below its target, which asks for them anyway"
            return StopRemedy(action=action, evidence=why, score=2.5)
        why = "the body frequency is above its target already"
        return StopRemedy(action=action, evidence=why, score=-0.5)
    why = "the body frequency is no reason for them, and they cost money"
    return StopRemedy(action=action, evidence=why, score=0.5)


def _shorten(evidence: StopEvidence, settings: StopSettings) -> StopRemedy:
    """Shortening a stop trades a soft contact for a harder one further on."""
    why = "keeps more free travel but hits harder at its end; never run without stops"
    shallow = evidence.deepest_mm is not None and evidence.deepest_mm <= settings.shallow_mm
    return StopRemedy(
        action="shorten or soften the bump stop", evidence=why, score=0.4 if shallow else -0.2
    )


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
    hit = f"Bump stops hit {times} ({', '.join(evidence.corners)}{depth})."
    if evidence.per_minute < settings.seldom_per_minute:
        hit += " That is seldom: after one pothole nothing needs doing."
    if evidence.per_minute > settings.often_per_minute:
        hit += (
            " That often, stops pass for damping: do not trust this run's damping, drive slower or "
            "on a smoother road."
        )
    ranked = "; ".join(
        f"{place}. {remedy.action} ({remedy.evidence})"
        for place, remedy in enumerate(remedies, start=1)
    )
    return hit, f"Against it, best first: {ranked}."


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
