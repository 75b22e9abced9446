"""Springs, flat ride and bump stops of the advice as plain JSON data, mm and N in the keys."""

from __future__ import annotations

from typing import Any

from ridelog.advise.flat_ride import FlatRide
from ridelog.advise.result import AxleAdvice
from ridelog.advise.spring_fit import SpringFit
from ridelog.advise.springs import SpringAdvice
from ridelog.advise.stop_remedies import StopRemedy
from ridelog.car.springs import SpringOnSale

Json = dict[str, Any]


def springs_json(advice: AxleAdvice) -> Json:
    """Lay out what is said of an axle's springs and bump stops, keys to add to its advice.

    Parameters
    ----------
    advice : AxleAdvice
        The axle's advice.
    """
    return {
        "springs": None if advice.springs is None else _springs(advice.springs),
        "bump_stops": _bump_stops(advice),
    }


def flat_ride_json(pair: FlatRide | None) -> Json | None:
    """Lay out a pair of body frequencies.

    Parameters
    ----------
    pair : FlatRide or None
        The pair; None becomes null.
    """
    if pair is None:
        return None
    return {
        "front_hz": pair.front_hz,
        "rear_hz": pair.rear_hz,
        "rear_over_front": pair.ratio,
        "flat_speed_mps": pair.flat_speed_mps,
        "judged_at_mps": pair.speed_mps,
        "rear_for_that_speed_hz": pair.rear_for_speed_hz,
        "motion_left": pair.left_over,
    }


def _springs(advice: SpringAdvice) -> Json:
    refused = None
    if advice.refused is not None:
        refused = {**_on_sale(advice.refused[0]), "fit": _fit(advice.refused[1])}
    return {
        "verdict": advice.verdict,
        "stated_rate_n_per_m": advice.stated_rate_n_per_m,
        "measured_rate_n_per_m": advice.measured_rate_n_per_m,
        "ideal_rate_n_per_m": advice.ideal_rate_n_per_m,
        "next_spring": None if advice.next_spring is None else _on_sale(advice.next_spring),
        "perch_up_mm": 1000 * advice.perch_up_m,
        "sink_at_wheel_mm": 1000 * advice.sink_m,
        "fit_now": None if advice.fit_now is None else _fit(advice.fit_now),
        "fit_next": None if advice.fit_next is None else _fit(advice.fit_next),
        "refused": refused,
    }


def _on_sale(spring: SpringOnSale) -> Json:
    return {
        "name": spring.name,
        "rate_n_per_m": spring.rate_n_per_m,
        "free_length_mm": _mm(spring.free_length_m),
        "block_length_mm": _mm(spring.block_length_m),
        "price": spring.price,
    }


def _fit(fit: SpringFit) -> Json:
    return {
        "squash_at_ride_height_mm": _mm(fit.squash_m),
        "coils_touch_at_travel_mm": _mm(fit.bind_travel_m),
        "bump_needs_travel_mm": _mm(fit.needed_travel_m),
        "binds": None if fit.bind_travel_m is None else fit.binds,
        "load_at_full_droop_n": fit.droop_load_n,
        "loose_at_full_droop_mm": _mm(fit.loose_m),
        "helper_closes_at_travel_mm": _mm(fit.helper_closes_m),
        "over_travel": [
            {
                "travel_mm": _mm(row.travel_m),
                "rate_n_per_m": row.rate_n_per_m,
                "body_frequency_hz": row.body_frequency_hz,
            }
            for row in fit.over_travel
        ],
    }


def _bump_stops(advice: AxleAdvice) -> Json | None:
    found = advice.bump_stops
    if found is None:
        return None
    return {
        "contacts": found.contacts,
        "corners": list(found.corners),
        "per_minute": found.per_minute,
        "per_km": found.per_km,
        "deepest_mm": found.deepest_mm,
        "fastest_mps": found.fastest_mps,
        "time_share": found.time_share,
        "gap_mm": found.gap_mm,
        "gap_over_free_travel": found.travel_share,
        "remedies": [_remedy(remedy) for remedy in advice.bump_stop_remedies],
    }


def _remedy(remedy: StopRemedy) -> Json:
    replay = remedy.replay
    avoided = None
    if replay is not None:
        avoided = {"low": replay.avoided_low, "high": replay.avoided_high, "of": replay.contacts}
    return {
        "action": remedy.action,
        "evidence": remedy.evidence,
        "amount": remedy.amount,
        "would_have_avoided": avoided,
    }


def _mm(length_m: float | None) -> float | None:
    return None if length_m is None else 1000 * length_m
