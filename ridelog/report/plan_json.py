"""The plan as JSON."""

from __future__ import annotations

from typing import Any

from ridelog.advise.plan_result import Need, Plan
from ridelog.car.description import Car
from ridelog.report.as_json import CONTRACT_VERSION

Json = dict[str, Any]


def plan_json(plan: Plan, car: Car) -> Json:
    """Lay out the plan as a JSON document; half-widths are relative, 95 %.

    Parameters
    ----------
    plan : Plan
        The plan.
    car : Car
        The car.
    """
    return {
        "contract": CONTRACT_VERSION,
        "car": car.name,
        "sensors": plan.sensors,
        "bounce_test": plan.bounce,
        "drive": {
            "iso8608_class": plan.road,
            "speed_mps": plan.speed_m_per_s,
            "seconds": plan.seconds,
            "repeats": plan.repeats,
        },
        "hump": {
            "speed_mps": plan.hump.speed_m_per_s,
            "bump_travel_mm": {k: 1000 * v for k, v in plan.hump.travel_m.items()},
            "damper_speed_mps": dict(plan.hump.damper_speed_m_per_s),
        },
        "intervals": [_need(need, plan) for need in plan.needs],
        "steps": [{"name": s.name, "do": s.do, "tells": s.tells} for s in plan.steps],
        "cautions": list(plan.safety),
        "notes": list(plan.notes),
    }


def _need(need: Need, plan: Plan) -> Json:
    return {
        "quantity": need.width.quantity,
        "place": need.width.place,
        "wanted_half_width": need.wanted,
        "half_width_in_60_s": need.width.after(60.0),
        "half_width_after_plan": need.width.after(plan.total_s),
        "lasting_half_width": need.width.lasting,
        "seconds": need.seconds,
        "source": need.width.source,
        "measure_better": need.width.remedy,
    }
