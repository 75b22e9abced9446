"""The heights sheet as a page to take under the car, with blanks where nothing is known yet."""

from __future__ import annotations

from ridelog.advise.height_result import HeightsAdvice
from ridelog.advise.trade_facts import HEIGHT_FACTS
from ridelog.car.description import Car
from ridelog.report.heights_words import (
    corner_words,
    heights_cautions,
    pattern_rows,
    pattern_title,
    pitch_words,
    raise_rows,
    raise_title,
    scale_rows,
    step_words,
)
from ridelog.report.page import render
from ridelog.report.quantities import spoken


def heights_page(advice: HeightsAdvice, car: Car) -> str:
    """Make the page.

    Parameters
    ----------
    advice : HeightsAdvice
        The sheet.
    car : Car
        The car.
    """
    values = {
        "title": f"{car.name}: ride heights",
        "car_name": car.name,
        "heading": "Ride heights and perches",
        "subject": pitch_words(advice.pitch_m),
        "corners": corner_words(advice),
        "scales": scale_rows(advice),
        "raise_title": raise_title(advice),
        "raises": raise_rows(advice),
        "pattern_title": pattern_title(advice),
        "patterns": pattern_rows(advice),
        "steps": step_words(advice),
        "facts": HEIGHT_FACTS,
        "problems": (),
        "cautions": heights_cautions(),
        "pictures": (),
        "notes": [spoken(note) for note in advice.notes],
    }
    return render("heights.html.j2", values)
