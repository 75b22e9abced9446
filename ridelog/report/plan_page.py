"""The plan as a page to print and take along."""

from __future__ import annotations

from ridelog.advise.plan_result import Plan
from ridelog.car.description import Car
from ridelog.report.page import render
from ridelog.report.plan_words import SENSOR_WORDS, headline, need_rows, sources


def plan_page(plan: Plan, car: Car) -> str:
    """Make the page.

    Parameters
    ----------
    plan : Plan
        The plan.
    car : Car
        The car.
    """
    values = {
        "title": f"{car.name}: plan of a drive",
        "car_name": car.name,
        "heading": "The drive that will tell most",
        "subject": f"with {SENSOR_WORDS[plan.sensors]}",
        "headline": headline(plan),
        "steps": plan.steps,
        "needs": need_rows(plan),
        "sources": sources(plan),
        "problems": (),
        "cautions": plan.safety,
        "pictures": (),
        "notes": plan.notes,
    }
    return render("plan.html.j2", values)
