"""Results as one HTML file that needs nothing else: for a phone, a memory stick, a printer."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from ridelog import __version__
from ridelog.advise.result import Advice, RunSummary
from ridelog.car.description import Car
from ridelog.estimate.result import AnalysisResult
from ridelog.recording import AXLES, CORNERS_OF_AXLE
from ridelog.report.advice_pictures import advice_pictures
from ridelog.report.advice_words import all_axle_words
from ridelog.report.cautions import analysis_cautions, check_cautions
from ridelog.report.clicks import counting_words, knob_words
from ridelog.report.log_pictures import log_pictures, strip_picture
from ridelog.report.marks import GENERATOR_MARK
from ridelog.report.numbers import interval_words, value_words
from ridelog.report.quantities import spoken
from ridelog.report.roll_rows import roll_rows
from ridelog.report.rows import (
    AxleRow,
    axle_rows,
    comfort_rows,
    corner_rows,
    force_rows,
    log_words,
    problem_words,
    road_words,
)
from ridelog.report.verdict import headlines
from ridelog.runs.abilities import CheckResult

PRINTED_SIGNS = {
    "->": "\N{RIGHTWARDS ARROW}",
    "+-": "\N{PLUS-MINUS SIGN}",
    "m/s2": "m/s\N{SUPERSCRIPT TWO}",
    " 10^-6": " \N{MULTIPLICATION SIGN} 10\N{SUPERSCRIPT MINUS}\N{SUPERSCRIPT SIX}",
    " m3": " m\N{SUPERSCRIPT THREE}",
}
NUMBER_AND_UNIT = re.compile(r"(\d) (?=(?:Hz|mm|ms|s|N|N/mm|lbf/in|m/s|%)(?![\w/]))")


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleBlock:
    """One axle's table with how it was measured and what to measure better."""

    name: str
    rows: tuple[AxleRow, ...]
    method: str
    contributor: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunAxle:
    """One axle in one run: damping, its interval and the knob, in words."""

    damping: str
    interval: str
    clicks: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRow:
    """One run in the table of runs."""

    file: str
    date: str
    note: str
    axles: tuple[RunAxle, ...]


def analysis_page(result: AnalysisResult, car: Car) -> str:
    """Make the page of one log.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    car : Car
        The car with its targets.
    """
    values = {
        "title": f"{car.name}: {result.log.file}",
        "car_name": car.name,
        "heading": "What the car does",
        "subject": f"{result.log.file}: {log_words(result.log)}",
        "headlines": headlines(result, car),
        "problems": [problem_words(problem) for problem in result.problems],
        "cautions": analysis_cautions(result),
        "axles": _axle_blocks(result, car),
        "rolling": roll_rows(result),
        "corners": corner_rows(result),
        "forces": force_rows(result),
        "comfort": comfort_rows(result),
        "road": road_words(result),
        "pictures": log_pictures(result.curves),
        "notes": [spoken(note) for note in result.notes],
    }
    return render("analysis.html.j2", values)


def advice_page(advice: Advice, car: Car) -> str:
    """Make the page that says what to turn next.

    Parameters
    ----------
    advice : Advice
        The advice.
    car : Car
        The car.
    """
    values = {
        "title": f"{car.name}: what to turn next",
        "car_name": car.name,
        "heading": "Done" if advice.done else "What to turn next",
        "subject": "",
        "axles": all_axle_words(advice, car),
        "next_run": advice.next_run,
        "problems": (),
        "cautions": advice.cautions,
        "runs": [_run_row(run, car) for run in advice.runs],
        "counting": f"front {counting_words(car.front)}, rear {counting_words(car.rear)}",
        "pictures": advice_pictures(advice, car),
        "notes": [spoken(note) for note in advice.notes],
    }
    return render("advice.html.j2", values)


def check_page(check: CheckResult, car: Car) -> str:
    """Make the page that says whether a log is fit to be analyzed.

    Parameters
    ----------
    check : CheckResult
        The check.
    car : Car
        The car.
    """
    count = len(check.problems)
    said = f"{count} {'problem' if count == 1 else 'problems'} found" if count else "All well"
    values = {
        "title": f"{car.name}: check of {check.log.file}",
        "car_name": car.name,
        "heading": "Is the log fit to be analyzed?",
        "subject": f"{check.log.file}: {log_words(check.log)}",
        "said": said,
        "problems": [problem_words(problem) for problem in check.problems],
        "cautions": check_cautions(),
        "can_tell": check.can_tell,
        "pictures": (strip_picture(check.strips, check.problems),) if check.strips else (),
        "notes": [spoken(note) for note in check.notes],
    }
    return render("check.html.j2", values)


def typeset(text: str) -> str:
    """Replace the terminal's ASCII signs by their printed form and keep numbers with units.

    Parameters
    ----------
    text : str
        Words for the terminal.
    """
    for typed, printed in PRINTED_SIGNS.items():
        text = text.replace(typed, printed)
    return NUMBER_AND_UNIT.sub("\\1\N{NO-BREAK SPACE}", text)


def render(template: str, values: dict[str, Any]) -> str:
    """Fill a template of ours.

    Parameters
    ----------
    template : str
        Its file name.
    values : dict
        What it asks for.
    """
    environment = Environment(
        loader=PackageLoader("ridelog.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["typeset"] = typeset
    shared = {"version": __version__, "generator": Markup(GENERATOR_MARK)}
    return environment.get_template(template).render({**values, **shared})


def _axle_blocks(result: AnalysisResult, car: Car) -> tuple[AxleBlock, ...]:
    blocks = []
    for name in AXLES:
        rows = axle_rows(name, result, car)
        if rows:
            ratio = result.axles[name].damping_ratio
            blocks.append(
                AxleBlock(
                    name=name.capitalize(),
                    rows=rows,
                    method=result.axles[name].method,
                    contributor=(ratio.largest_contributor or "") if ratio else "",
                )
            )
    return tuple(blocks)


def _run_row(run: RunSummary, car: Car) -> RunRow:
    axles = tuple(
        RunAxle(
            damping=value_words(run.damping_ratio.get(name)),
            interval=interval_words(run.damping_ratio.get(name)),
            clicks=knob_words(car.axle(name), run, CORNERS_OF_AXLE[name]),
        )
        for name in AXLES
    )
    return RunRow(file=run.file, date=run.date or "", note=run.note, axles=axles)
