"""Results on the terminal: rich renderables, readable at 80 columns and without colour."""

from __future__ import annotations

from collections.abc import Iterable

from rich import box
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ridelog.advise.result import Advice
from ridelog.car.description import Car
from ridelog.estimate.result import AnalysisResult
from ridelog.recording import AXLES, CORNERS_OF_AXLE
from ridelog.report.advice_words import AxleWords, all_axle_words
from ridelog.report.clicks import counting_words, knob_words
from ridelog.report.numbers import value_words
from ridelog.report.quantities import spoken
from ridelog.report.roll_rows import roll_rows
from ridelog.report.rows import (
    axle_rows,
    comfort_rows,
    corner_rows,
    force_rows,
    log_words,
    problem_words,
    road_words,
)
from ridelog.report.verdict import ABOVE, BELOW, headlines
from ridelog.runs.abilities import CheckResult

STYLE_OF_STATE = {ABOVE: "bold", BELOW: "bold"}


def analysis_text(result: AnalysisResult, car: Car) -> RenderableType:
    """Lay out one log's analysis for the terminal.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    car : Car
        The car with its targets.
    """
    parts: list[RenderableType] = [
        Text(f"{car.name}: {result.log.file} ({log_words(result.log)})", style="bold"),
        *_bullets(headline.sentence for headline in headlines(result, car)),
    ]
    tables = [_axle_table(name, result, car) for name in AXLES]
    tables += [_roll_table(result), _corner_table(result), _force_table(result)]
    tables.append(_comfort_table(result))
    for table in tables:
        parts += with_space(table)
    if road_words(result):
        parts += [Text(""), Text(f"Road: {road_words(result)}")]
    parts += section("Problems", (problem_words(problem) for problem in result.problems))
    parts += section("Notes", map(spoken, result.notes))
    return Group(*parts)


def advice_text(advice: Advice, car: Car) -> RenderableType:
    """Lay out the advice for the terminal: what to turn first, then why.

    Parameters
    ----------
    advice : Advice
        The advice.
    car : Car
        The car.
    """
    parts: list[RenderableType] = [Text(f"{car.name}: what to do next", style="bold")]
    axles = all_axle_words(advice, car)
    for words in axles:
        parts += _axle_advice(words)
    parts += [Text(""), Text(f"Next: {advice.next_run}", style="bold")]
    for words in axles:
        parts += section(f"Why, {words.name.lower()}", words.reasons)
    parts += with_space(_runs_table(advice, car))
    parts += section("Notes", map(spoken, advice.notes))
    parts += section("Cautions", advice.cautions)
    return Group(*parts)


def check_text(check: CheckResult) -> RenderableType:
    """Lay out the check of a log's sensors for the terminal.

    Parameters
    ----------
    check : CheckResult
        The check.
    """
    parts: list[RenderableType] = [Text(f"{check.log.file} ({log_words(check.log)})", style="bold")]
    if check.problems:
        parts += section("Problems", (problem_words(problem) for problem in check.problems))
    else:
        parts.append(Text("No problems found: the sensors agree with each other and the clock."))
    table = new_table("What this log can tell", ("question", "", "how, or what is missing"))
    for ability in check.can_tell:
        table.add_row(ability.question, "yes" if ability.possible else "no", ability.reason)
    parts += [Text(""), table]
    parts += section("Notes", map(spoken, check.notes))
    return Group(*parts)


def new_table(title: str, columns: Iterable[str]) -> Table:
    """Start a table in the one look of all tables.

    Parameters
    ----------
    title : str
        Line above the table.
    columns : iterable of str
        Column headings.
    """
    table = Table(
        title=Text(title, style="bold"),
        title_justify="left",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        show_edge=False,
    )
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def _caption(table: Table, words: str) -> None:
    table.caption = Text(words)
    table.caption_justify = "left"


def with_space(table: Table) -> list[RenderableType]:
    """Put an empty line before a table; nothing where the table has no rows.

    Parameters
    ----------
    table : Table
        The table.
    """
    return [Text(""), table] if table.row_count else []


def _axle_table(name: str, result: AnalysisResult, car: Car) -> Table:
    table = new_table(
        f"{name.capitalize()} axle", ("", "measured", "95 % interval", "target", "against target")
    )
    rows = axle_rows(name, result, car)
    for row in rows:
        verdict = Text(row.verdict, style=STYLE_OF_STATE.get(row.state, ""))
        table.add_row(row.words, row.value, row.interval, row.target, verdict)
    if rows:
        _caption(table, f"by {result.axles[name].method}")
    return table


def _roll_table(result: AnalysisResult) -> Table:
    table = new_table("Rolling", ("", "measured", "95 % interval"))
    for row in roll_rows(result):
        table.add_row(*row)
    return table


def _corner_table(result: AnalysisResult) -> Table:
    table = new_table("Corners", ("", "damping ratio", "travel used", "bump stop", "top-out stop"))
    for row in corner_rows(result):
        table.add_row(row.words, row.damping, row.travel, row.bump_stop, row.top_out)
    return table


def _force_table(result: AnalysisResult) -> Table:
    columns = ("m/s", "left front", "right front", "left rear", "right rear")
    table = new_table("Damper force [N], bump positive, friction left out", columns)
    for row in force_rows(result):
        table.add_row(*row)
    return table


def _comfort_table(result: AnalysisResult) -> Table:
    table = new_table("Comfort (ISO 2631-1)", ("", ""))
    table.show_header = False
    for words, value in comfort_rows(result):
        table.add_row(words, value)
    return table


def _bullets(lines: Iterable[str]) -> list[RenderableType]:
    return [_bullet(line) for line in lines]


def _bullet(line: str) -> RenderableType:
    # A two-column grid, so that a wrapped line stays clear of its mark.
    grid = Table.grid(padding=(0, 1))
    grid.add_row("-", Text(line))
    return grid


def section(title: str, lines: Iterable[str]) -> list[RenderableType]:
    """Head a list of sentences; nothing where there are none.

    Parameters
    ----------
    title : str
        Heading.
    lines : iterable of str
        The sentences.
    """
    bullets = _bullets(lines)
    return [Text(""), Text(title, style="bold"), *bullets] if bullets else []


def _axle_advice(words: AxleWords) -> list[RenderableType]:
    facts = Table.grid(padding=(0, 2))
    for label, fact in words.facts:
        facts.add_row(label, Text(fact))
    detail = f" ({words.detail})" if words.detail else ""
    return [
        Text(""),
        Text(f"{words.name}: {words.action}{detail}", style="bold reverse"),
        Padding(facts, (0, 0, 0, 2)),
    ]


def _runs_table(advice: Advice, car: Car) -> Table:
    table = new_table("Runs so far", ("run", "date", "front", "damping", "rear", "damping"))
    for run in advice.runs:
        cells = [run.file, run.date or ""]
        for name in AXLES:
            cells.append(knob_words(car.axle(name), run, CORNERS_OF_AXLE[name]))
            cells.append(value_words(run.damping_ratio.get(name)))
        table.add_row(*cells)
    _caption(table, f"front {counting_words(car.front)}; rear {counting_words(car.rear)}")
    return table
