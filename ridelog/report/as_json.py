"""Results as the contract's JSON: every key always present, full precision, never NaN."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from ridelog.advise.result import Advice, AxleAdvice, Change, KnobLaw, RunSummary
from ridelog.car.description import Axle, Car
from ridelog.estimate.result import (
    AnalysisResult,
    AxleResult,
    ComfortResult,
    Contact,
    CornerResult,
    Estimate,
    LogInfo,
    RoadResult,
    StopContacts,
    TravelUse,
)
from ridelog.recording import AXLE_OF_CORNER, AXLES, CORNERS, Problem
from ridelog.report.clicks import owner_count
from ridelog.report.springs_as_json import flat_ride_json, springs_json
from ridelog.runs.abilities import CheckResult

CONTRACT_VERSION = 1

Json = dict[str, Any]


def dump(document: Json) -> str:
    """Write a document as JSON text with a closing newline.

    Parameters
    ----------
    document : dict
        One of the documents made here.

    Raises
    ------
    ValueError
        A number is NaN or infinite: a bug in an estimator, never an answer.
    """
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def analysis_json(result: AnalysisResult) -> Json:
    """Lay out one log's analysis as the contract's ``analyze`` document.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    """
    unknown = AxleResult(method="none")
    weak_corner = {name: result.weak_corner.get(name) for name in AXLES}
    return {
        "contract": CONTRACT_VERSION,
        "log": _log(result.log),
        "axles": {
            name: {**_axle(result.axles.get(name, unknown)), "weak_corner": weak_corner[name]}
            for name in AXLES
        },
        "corners": {name: _corner(result.corners.get(name, CornerResult())) for name in CORNERS},
        "whole_car": {
            "bounce_frequency_hz": estimate_json(result.whole_car.bounce_frequency_hz),
            "bounce_damping_ratio": estimate_json(result.whole_car.bounce_damping_ratio),
            "roll_gradient_deg_per_g": estimate_json(result.whole_car.roll_gradient_deg_per_g),
            "front_roll_stiffness_share": estimate_json(
                result.whole_car.front_roll_stiffness_share
            ),
            "stated_front_roll_stiffness_share": estimate_json(
                result.whole_car.stated_front_roll_stiffness_share
            ),
        },
        "comfort": _comfort(result.comfort),
        "road": _road(result.road),
        "problems": [_problem(problem) for problem in result.problems],
        "notes": list(result.notes),
    }


def check_json(check: CheckResult) -> Json:
    """Lay out the check of a log's sensors and clock.

    Parameters
    ----------
    check : CheckResult
        The check.
    """
    return {
        "contract": CONTRACT_VERSION,
        "log": _log(check.log),
        "problems": [_problem(problem) for problem in check.problems],
        "can_tell": {ability.key: ability.possible for ability in check.can_tell},
        "notes": list(check.notes),
    }


def advice_json(advice: Advice, car: Car) -> Json:
    """Lay out the advice as the contract's ``advise`` document, clicks in the owner's counting.

    Parameters
    ----------
    advice : Advice
        The advice, clicks counted from full soft.
    car : Car
        The car, which says from which end its owner counts.
    """
    return {
        "contract": CONTRACT_VERSION,
        "runs": [_run(run, car) for run in advice.runs],
        "axles": {name: _axle_advice(advice.axles[name], car.axle(name)) for name in AXLES},
        "done": advice.done,
        "next_run": advice.next_run,
        "cautions": list(advice.cautions),
        "notes": list(advice.notes),
        "flat_ride": {name: flat_ride_json(pair) for name, pair in advice.flat_ride.items()},
    }


def _number(value: float | None) -> float | None:
    return None if value is None else float(value)


def estimate_json(estimate: Estimate | None) -> Json | None:
    """Lay out one estimate: value and interval, and what dominates it where that is known.

    Parameters
    ----------
    estimate : Estimate or None
        The estimate; None becomes null.
    """
    if estimate is None:
        return None
    document: Json = {
        "value": float(estimate.value),
        "low": float(estimate.low),
        "high": float(estimate.high),
    }
    if estimate.random_half_width is not None:
        document["random_half_width"] = float(estimate.random_half_width)
    if estimate.systematic_half_width is not None:
        document["systematic_half_width"] = float(estimate.systematic_half_width)
    if estimate.largest_contributor is not None:
        document["largest_contributor"] = estimate.largest_contributor
    return document


def _log(log: LogInfo) -> Json:
    return {
        "file": log.file,
        "kind": log.kind,
        "duration_s": float(log.duration_s),
        "sample_rate_hz": float(log.sample_rate_hz),
        "gaps": [{"start_s": float(gap.start_s), "end_s": float(gap.end_s)} for gap in log.gaps],
        "channels": list(log.channels),
    }


def _axle(axle: AxleResult) -> Json:
    # Every field of the result but the method is an estimate under the contract's own name.
    names = [field.name for field in fields(axle) if field.name != "method"]
    return {**{name: estimate_json(getattr(axle, name)) for name in names}, "method": axle.method}


def _corner(corner: CornerResult) -> Json:
    return {
        "damping_ratio": estimate_json(corner.damping_ratio),
        "friction_n": estimate_json(corner.friction_n),
        "damper_force": [
            {"speed_mps": float(point.speed_mps), "force_n": estimate_json(point.force_n)}
            for point in corner.damper_force
        ],
        "travel_mm": _travel(corner.travel_mm),
        "bump_stop": _stop(corner.bump_stop),
        "top_out": _stop(corner.top_out),
    }


def _travel(travel: TravelUse | None) -> Json | None:
    if travel is None:
        return None
    return {field.name: float(getattr(travel, field.name)) for field in fields(travel)}


def _stop(stop: StopContacts | None) -> Json | None:
    if stop is None:
        return None
    return {
        "gap_mm": estimate_json(stop.gap_mm),
        "contacts": [_contact(contact) for contact in stop.contacts],
    }


def _contact(contact: Contact) -> Json:
    return {
        "start_s": float(contact.start_s),
        "end_s": float(contact.end_s),
        "depth_mm": _number(contact.depth_mm),
        "probability": float(contact.probability),
        "speed_mps": _number(contact.speed_mps),
    }


def _comfort(comfort: ComfortResult | None) -> Json | None:
    if comfort is None:
        return None
    return {
        "place": comfort.place,
        "weighted_rms_mps2": float(comfort.weighted_rms_mps2),
        "vdv_mps175": float(comfort.vdv_mps175),
        "mtvv_mps2": float(comfort.mtvv_mps2),
        "crest_factor": float(comfort.crest_factor),
        "reaction": comfort.reaction,
        "remarks": list(comfort.remarks),
    }


def _road(road: RoadResult | None) -> Json:
    road = road or RoadResult(gd_n0_m3=None, iso8608_class=None)
    return {
        "gd_n0_m3": estimate_json(road.gd_n0_m3),
        "iso8608_class": road.iso8608_class,
        "waviness": estimate_json(road.waviness),
        "remarks": list(road.remarks),
    }


def _problem(problem: Problem) -> Json:
    return {
        "code": problem.code,
        "channel": problem.channel,
        "channels": list(problem.channels),
        "text": problem.text,
        "start_s": _number(problem.start_s),
        "end_s": _number(problem.end_s),
        "mended": problem.mended,
    }


def _corner_clicks(clicks: Mapping[str, int | None], car: Car, knob: str) -> Json:
    return {
        corner: owner_count(car.axle(AXLE_OF_CORNER[corner]), clicks.get(corner), knob)
        for corner in CORNERS
    }


def _run(run: RunSummary, car: Car) -> Json:
    document: Json = {
        "file": run.file,
        "date": run.date,
        "note": run.note,
        "clicks": _corner_clicks(run.clicks, car, "clicks"),
        "damping_ratio": {name: estimate_json(run.damping_ratio.get(name)) for name in AXLES},
        "body_frequency_hz": {
            name: estimate_json(run.body_frequency_hz.get(name)) for name in AXLES
        },
    }
    if run.bump_clicks or run.rebound_clicks:
        document["bump_clicks"] = _corner_clicks(run.bump_clicks, car, "bump_clicks")
        document["rebound_clicks"] = _corner_clicks(run.rebound_clicks, car, "rebound_clicks")
    return document


def _click_change(change: Change, axle: Axle, knob: str) -> Json:
    return {
        "now": owner_count(axle, change.now, knob),
        "next": owner_count(axle, change.next, knob),
    }


def _axle_advice(advice: AxleAdvice, axle: Axle) -> Json:
    spring = advice.spring_rate_n_per_m
    document: Json = {
        "clicks": _click_change(advice.clicks, axle, "clicks"),
        "predicted_damping_ratio": estimate_json(advice.predicted_damping_ratio),
        "spring_rate_n_per_m": {"now": _number(spring.now), "next": _number(spring.next)},
        "predicted_body_frequency_hz": estimate_json(advice.predicted_body_frequency_hz),
        "clicks_with_next_spring": owner_count(axle, advice.clicks_with_next_spring),
        "perch_turns": _number(advice.perch_turns),
        "done": advice.done,
        "state": advice.state,
        "direction": advice.direction,
        "weak_corner": advice.weak_corner,
        "reasons": list(advice.reasons),
        "probability_within_10_percent": _number(advice.probability_within_10_percent),
        "knob_law": _knob_law(advice.knob_law, axle),
        **springs_json(advice),
    }
    for knob in ("bump_clicks", "rebound_clicks"):
        change: Change | None = getattr(advice, knob)
        if change is not None:
            document[knob] = _click_change(change, axle, knob)
    return document


def _knob_law(law: KnobLaw | None, axle: Axle) -> Json | None:
    if law is None:
        return None
    return {
        "clicks": [owner_count(axle, clicks) for clicks in law.clicks],
        "damping_ratio": [float(value) for value in law.damping_ratio],
        "low": [float(value) for value in law.low],
        "high": [float(value) for value in law.high],
    }
