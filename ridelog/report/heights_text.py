"""The heights sheet on the terminal."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

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
)
from ridelog.report.quantities import spoken
from ridelog.report.text import new_table, section, with_space


def heights_text(advice: HeightsAdvice, car: Car) -> RenderableType:
    """Lay out the sheet for the terminal.

    Parameters
    ----------
    advice : HeightsAdvice
        The sheet.
    car : Car
        The car.
    """
    corners = new_table(
        "Ride heights [mm] and perches", ("", "before", "now", "wanted", "turn", "95 %", "then")
    )
    for row in corner_words(advice):
        corners.add_row(
            row.name,
            row.before or "....",
            row.now or "....",
            row.wanted or "....",
            Text(row.action or "....", style="bold"),
            row.doubt,
            row.after or "....",
        )
    scales = new_table("Corner weights", ("", ""))
    scales.show_header = False
    for words, value in scale_rows(advice):
        scales.add_row(words, value)
    single = new_table(raise_title(advice), ("at", "fl", "fr", "rl", "rr", "cross weight [%]"))
    for cells in raise_rows(advice):
        single.add_row(*cells)
    patterns = new_table(pattern_title(advice), ("what it does", "fl", "fr", "rl", "rr", "keeps"))
    for cells in pattern_rows(advice):
        patterns.add_row(*cells)
    pitch = pitch_words(advice.pitch_m)
    head = f"{car.name}: heights" + (f" ({pitch})" if pitch else "")
    return Group(
        Text(head, style="bold"),
        *with_space(corners),
        *with_space(scales),
        *with_space(single),
        *with_space(patterns),
        *section("Notes", map(spoken, advice.notes)),
        *section("Know before you turn", HEIGHT_FACTS),
        *section("Cautions", heights_cautions()),
    )
