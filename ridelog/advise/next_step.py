"""What to turn or fit next: all runs of a car put together into one advice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ridelog.advise.axle_knobs import axle_knobs
from ridelog.advise.cautions import Occasions, cautions
from ridelog.advise.flat_ride import FlatRide, flat_ride, flat_ride_reasons
from ridelog.advise.knob_part import NOT_KNOWN, KnobPart
from ridelog.advise.knob_words import unused_runs_reason
from ridelog.advise.next_run import next_run_sentence
from ridelog.advise.result import Advice, AxleAdvice, Change, RunSummary
from ridelog.advise.run_notes import run_notes
from ridelog.advise.spring_fit_words import fit_reasons
from ridelog.advise.spring_words import spring_reasons, travel_reason
from ridelog.advise.springs import SpringAdvice, advise_spring
from ridelog.advise.stop_remedies import StopRemedy, stop_remedies
from ridelog.advise.stop_words import stop_reasons, top_out_reason
from ridelog.advise.stops import StopEvidence, bump_stop_evidence
from ridelog.advise.tired_dampers import (
    Imbalance,
    find_imbalance,
    friction_reason,
    imbalance_reasons,
    latest_imbalance,
    one_sided_friction_reason,
)
from ridelog.car.description import Car
from ridelog.estimate.result import AxleResult
from ridelog.recording import AXLES, CORNERS, CORNERS_OF_AXLE
from ridelog.runs.collect import Run


@dataclass(frozen=True, slots=True, kw_only=True)
class _AxleFindings:
    """What is known of one axle before it is put into words."""

    name: str
    runs: tuple[Run, ...]
    knobs: KnobPart
    spring: SpringAdvice
    imbalance: Imbalance | None
    stops: StopEvidence | None
    unused: tuple[str, ...]


def advise(car: Car, runs: Sequence[Run]) -> Advice:
    """Advise what to turn or fit next on a car.

    Parameters
    ----------
    car : Car
        The car with its targets.
    runs : sequence of Run
        All its runs, oldest first; the last one is as the car stands now.

    Returns
    -------
    Advice
        Knobs, springs and reasons per axle, the next run in one sentence, and cautions.

    Raises
    ------
    ValueError
        Without runs.

    Notes
    -----
    Knobs first (they cost nothing), heights next, springs last. A tired damper stops the turning of
    knobs on its axle: clicks would hide it.

    References
    ----------
    Derived here from `axle_knobs`, `advise_spring`, `stop_remedies` and `latest_imbalance`.
    """
    if not runs:
        raise ValueError("advise needs at least one run")
    findings = {name: _find(car, tuple(runs), name) for name in AXLES}
    axles = {name: _axle_advice(car, found) for name, found in findings.items()}
    done = all(axle.done for axle in axles.values())
    pairs = _flat_ride(car, findings, runs[-1])
    return Advice(
        runs=tuple(_summary(run) for run in runs),
        axles=axles,
        done=done,
        next_run=next_run_sentence(car, axles, done=done),
        cautions=cautions(_occasions(findings, axles)),
        notes=(*flat_ride_reasons(pairs["measured"], pairs["target"]), *run_notes(runs)),
        flat_ride=pairs,
    )


def _find(car: Car, runs: tuple[Run, ...], name: str) -> _AxleFindings:
    """Look at one axle from every side."""
    imbalance = latest_imbalance(car, runs, name)
    spring = advise_spring(car, runs, name)
    tired = imbalance is not None and imbalance.tired
    used = runs if tired else _even_runs(car, runs, name)
    return _AxleFindings(
        name=name,
        runs=runs,
        knobs=axle_knobs(car, used, name, spring.rate_ratio),
        spring=spring,
        imbalance=imbalance,
        stops=bump_stop_evidence(car.axle(name), name, runs[-1].analysis),
        unused=tuple(run.file for run in runs if run not in used),
    )


def _even_runs(car: Car, runs: tuple[Run, ...], name: str) -> tuple[Run, ...]:
    """Leave out runs with a tired damper on this axle, but not the latest: it is the present."""
    kept = []
    for run in runs:
        found = find_imbalance(car, run, name)
        if run is runs[-1] or found is None or not found.tired:
            kept.append(run)
    return tuple(kept)


def _axle_advice(car: Car, found: _AxleFindings) -> AxleAdvice:
    """Put one axle's findings together."""
    knobs, spring = found.knobs, found.spring
    weak = found.imbalance is not None and found.imbalance.tired
    if weak:
        knobs = _held(knobs)
    return AxleAdvice(
        clicks=knobs.clicks,
        predicted_damping_ratio=knobs.predicted,
        spring_rate_n_per_m=Change(now=spring.now_n_per_m, next=spring.next_n_per_m),
        predicted_body_frequency_hz=spring.predicted_frequency_hz,
        clicks_with_next_spring=knobs.clicks_with_next_spring,
        perch_turns=_perch_turns(car, found),
        done=knobs.state == "done",
        state=knobs.state,
        reasons=_reasons(car, found, knobs),
        probability_within_10_percent=knobs.probability,
        bump_clicks=knobs.bump_clicks,
        rebound_clicks=knobs.rebound_clicks,
        knob_law=knobs.law,
        side_laws=knobs.side_laws,
        direction=knobs.direction,
        weak_corner=found.imbalance.weak if found.imbalance and weak else None,
        springs=spring,
        bump_stops=found.stops,
        bump_stop_remedies=_remedies(car, found),
    )


def _held(knobs: KnobPart) -> KnobPart:
    """Leave the knobs where they are until the tired damper is seen to."""
    return replace(
        knobs,
        state="repeat",
        clicks=_stay(knobs.clicks) or NOT_KNOWN,
        bump_clicks=_stay(knobs.bump_clicks),
        rebound_clicks=_stay(knobs.rebound_clicks),
        reasons=knobs.reasons[:1],
        predicted=None,
        probability=None,
        direction=None,
    )


def _stay(change: Change | None) -> Change | None:
    """Turn a change into none."""
    return None if change is None else Change(now=change.now, next=change.now)


def _perch_turns(car: Car, found: _AxleFindings) -> float | None:
    """Count the turns of the perch (positive up) that keep the ride height."""
    spring, pitch = found.spring, car.axle(found.name).perch_thread_pitch_m
    if spring.next_n_per_m is None:
        return None
    if spring.verdict != "change":
        return 0.0
    return None if pitch is None else spring.perch_up_m / pitch


def _reasons(car: Car, found: _AxleFindings, knobs: KnobPart) -> tuple[str, ...]:
    """All reasons of one axle, what matters most first."""
    axle, latest = car.axle(found.name), found.runs[-1].analysis
    reasons: list[str | None] = []
    if found.imbalance is not None:
        reasons.extend(imbalance_reasons(found.imbalance))
    # Friction points to bushings first, before any knob.
    left, right = (latest.corners.get(corner) for corner in CORNERS_OF_AXLE[found.name])
    reasons.append(friction_reason(axle, latest.axles.get(found.name)))
    reasons.append(one_sided_friction_reason(found.name, left, right))
    reasons.extend(knobs.reasons)
    why = "one damper was weaker than its partner then"
    reasons.append(unused_runs_reason(found.unused, why))
    if found.stops is not None:
        reasons.extend(stop_reasons(found.stops, _remedies(car, found)))
    reasons.append(top_out_reason(found.name, latest))
    reasons.extend(spring_reasons(found.spring, axle, knob_first=knobs.state == "turn"))
    reasons.append(travel_reason(found.spring, axle, (left, right)))
    reasons.extend(fit_reasons(found.spring, axle))
    return tuple(reason for reason in reasons if reason)


def _remedies(car: Car, found: _AxleFindings) -> tuple[StopRemedy, ...]:
    """Rank what helps against bump-stop contacts, if there are any."""
    if found.stops is None:
        return ()
    axle, latest = car.axle(found.name), found.runs[-1].analysis
    over = _over_target(latest.axles.get(found.name), axle.target_damping_ratio)
    return stop_remedies(found.stops, found.spring, over, axle=axle)


def _over_target(result: AxleResult | None, target: float | None) -> tuple[float, float] | None:
    """95 % limits of damping over its target."""
    if result is None or result.damping_ratio is None or target is None:
        return None
    return result.damping_ratio.low / target, result.damping_ratio.high / target


def _summary(run: Run) -> RunSummary:
    """One run's line in the advice: what was set and what was measured."""
    setup, axles = run.setup, run.analysis.axles
    return RunSummary(
        file=run.file,
        clicks={corner: setup.clicks.get(corner) if setup else None for corner in CORNERS},
        damping_ratio={
            name: axles[name].damping_ratio if name in axles else None for name in AXLES
        },
        body_frequency_hz={
            name: axles[name].body_frequency_hz if name in axles else None for name in AXLES
        },
        side_damping_ratio={
            name: {
                side: getattr(axles.get(name), f"damping_ratio_{side}", None)
                for side in ("bump", "rebound")
            }
            for name in AXLES
        },
        bump_clicks=dict(setup.bump_clicks) if setup else {},
        rebound_clicks=dict(setup.rebound_clicks) if setup else {},
        note=setup.note if setup else "",
        date=setup.date if setup else None,
    )


def _flat_ride(
    car: Car, findings: dict[str, _AxleFindings], latest: Run
) -> dict[str, FlatRide | None]:
    """Front against rear frequency, as measured and as targeted."""
    now = [findings[name].spring.measured_frequency_hz for name in AXLES]
    targets = [car.axle(name).target_body_frequency_hz for name in AXLES]
    damping = [a.damping_ratio.value for a in latest.analysis.axles.values() if a.damping_ratio]

    def judged(front: float | None, rear: float | None) -> FlatRide | None:
        if front is None or rear is None:
            return None
        return flat_ride(
            front,
            rear,
            car.wheelbase_m,
            speed_mps=latest.analysis.log.mean_speed_mps,
            damping_ratio=sum(damping) / len(damping) if damping else 0.3,
        )

    return {
        "measured": judged(*(None if estimate is None else estimate.value for estimate in now)),
        "target": judged(*targets),
    }


def _occasions(findings: dict[str, _AxleFindings], axles: dict[str, AxleAdvice]) -> Occasions:
    """Tell what of the advice can hurt someone."""
    changes = [f.spring for f in findings.values() if f.spring.verdict == "change"]
    predicted = [a.predicted_damping_ratio for a in axles.values() if a.predicted_damping_ratio]
    return Occasions(
        springs_change=bool(changes),
        stops_hit=any(f.stops is not None for f in findings.values()),
        little_damping=any(p.value < 0.2 for p in predicted),
        dampers_come_off=any(a.weak_corner for a in axles.values()),
    )
