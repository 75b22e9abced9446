"""What to do about bump stops that are hit, best first, with the evidence for each remedy."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.advise.springs import SpringAdvice
from ridelog.advise.stop_replay import (
    Replay,
    avoided_by_damping,
    avoided_by_gap,
    avoided_by_spring,
    gap_for_most,
)
from ridelog.advise.stops import StopEvidence, StopSettings
from ridelog.car.description import Axle


@dataclass(frozen=True, slots=True, kw_only=True)
class StopRemedy:
    """One remedy in words, with its evidence; the higher the score the sooner.

    `amount` says how much was replayed on the log's contacts, `replay` what came of it.
    """

    action: str
    evidence: str
    score: float
    amount: str = ""
    replay: Replay | None = None


def stop_remedies(
    evidence: StopEvidence,
    spring: SpringAdvice,
    damping_over_target: tuple[float, float] | None,
    settings: StopSettings | None = None,
    *,
    axle: Axle | None = None,
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
    axle : Axle, optional
        The axle: turns a rise into turns of the perch, and says how much droop is left for it.

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
        _raise(evidence, axle, settings),
        _stiffer(evidence, spring, settings),
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
    replay, gap = None, evidence.gap_mm
    if evidence.depths_mm and gap is not None:
        replay = avoided_by_damping(evidence.depths_mm, gap, settings.damping_step)
    return StopRemedy(
        action="more bump damping",
        evidence=why,
        score=score,
        amount=f"{settings.damping_step - 1:.0%} more, bump and rebound, roughly".replace(
            "%", " %"
        ),
        replay=replay,
    )


def _raise(evidence: StopEvidence, axle: Axle | None, settings: StopSettings) -> StopRemedy:
    """Height is the cure for a short gap."""
    gap, measured, stated = evidence.gap_mm, evidence.measured_gap_mm, evidence.stated_gap_mm
    if measured is not None and stated is not None and measured < stated - settings.gap_doubt_mm:
        why = f"the gap measures {measured:.0f} mm where the car file says {stated:.0f} mm: it may "
        why, score = f"{why}have sagged", 2.8
    elif gap is not None and gap < settings.short_gap_mm:
        why, score = f"the gap is short, {gap:.0f} mm", 2.6
    elif gap is None:
        why, score = "the gap is not known; measure it", 1.2
    else:
        why, score = f"the gap is {gap:.0f} mm", 1.2
    wanted = gap_for_most(evidence.depths_mm)
    amount, replay = "", None
    if wanted is not None:
        rise = float(round(min(max(wanted, 1.0), settings.most_raised_mm)))
        amount = f"{rise:.0f} mm at the damper{_rise_words(rise, axle)}"
        replay = avoided_by_gap(evidence.depths_mm, rise)
    return StopRemedy(
        action="raise the axle at its perches",
        evidence=why,
        score=score,
        amount=amount,
        replay=replay,
    )


def _rise_words(rise_mm: float, axle: Axle | None) -> str:
    """Say a rise at the damper as one at the wheel, in perch turns, and what droop it takes."""
    if axle is None:
        return ""
    words = f", {rise_mm / axle.motion_ratio:.0f} mm at the wheel"
    if axle.perch_thread_pitch_m:
        words += f", {rise_mm / 1000 / axle.perch_thread_pitch_m:.1f} turns"
    if axle.droop_gap_m is not None:
        words += f", droop then {axle.droop_gap_m * 1000 - rise_mm:.0f} mm"
    return words


def _stiffer(evidence: StopEvidence, spring: SpringAdvice, settings: StopSettings) -> StopRemedy:
    """Judge stiffer springs: they cost money, the frequency target decides."""
    following, ratio = spring.next_n_per_m, settings.spring_step
    why, score = "the body frequency is no reason for them, and they cost money", 0.5
    if spring.verdict == "change" and following is not None:
        if following > spring.now_n_per_m:
            why, score = "the body frequency is below its target, which asks for them anyway", 2.5
            ratio = spring.rate_ratio or ratio
        else:
            why, score = "the body frequency is above its target already", -0.5
    replay, gap = None, evidence.gap_mm
    if evidence.depths_mm and gap is not None:
        replay = avoided_by_spring(evidence.depths_mm, gap, ratio)
    return StopRemedy(
        action="stiffer springs",
        evidence=why,
        score=score,
        amount=f"by {100 * (ratio - 1):.0f} %; none on a rough road, more under load and braking",
        replay=replay,
    )


def _shorten(evidence: StopEvidence, settings: StopSettings) -> StopRemedy:
    """Shortening a stop trades a soft contact for a harder one further on."""
    why = "keeps more free travel but hits harder at its end; never run without stops"
    shallow = evidence.deepest_mm is not None and evidence.deepest_mm <= settings.shallow_mm
    replay = avoided_by_gap(evidence.depths_mm, _CUT_MM) if evidence.depths_mm else None
    return StopRemedy(
        action="shorten or soften the bump stop",
        evidence=why,
        score=0.4 if shallow else -0.2,
        amount=f"{_CUT_MM:.0f} mm off, if damper, coils and wheel have that travel left",
        replay=replay,
    )


_CUT_MM = 5.0
"""How much of a stop is cut in the replay [mm]: one rib of a usual one (common practice, no
source)."""
