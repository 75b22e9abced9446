"""The plan on the terminal."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from ridelog.advise.plan_result import Plan
from ridelog.car.description import Car
from ridelog.report.plan_words import SENSOR_WORDS, headline, need_rows, sources
from ridelog.report.text import new_table, section, with_space


def plan_text(plan: Plan, car: Car) -> RenderableType:
    """Lay out the plan for the terminal.

    Parameters
    ----------
    plan : Plan
        The plan.
    car : Car
        The car.
    """
    parts: list[RenderableType] = [
        Text(f"{car.name}: plan with {SENSOR_WORDS[plan.sensors]}", style="bold"),
        Text(headline(plan), style="bold reverse"),
        *section("Safety first", plan.safety),
        Text(""),
    ]
    for number, step in enumerate(plan.steps, 1):
        parts.append(Text(f"{number}. {step.name}", style="bold"))
        parts.append(Padding(Text(step.do), (0, 0, 0, 3)))
        parts.append(Padding(Text(f"Tells: {step.tells}."), (0, 0, 0, 3)))
    columns = ("95 % interval", "wanted", "in 60 s", "after all of it", "takes")
    table = new_table("What it will tell", columns)
    for row in need_rows(plan):
        table.add_row(*row)
    if plan.needs:
        table.caption, table.caption_justify = Text(f"Widths {sources(plan)}."), "left"
    return Group(*parts, *with_space(table), *section("Notes", plan.notes))
