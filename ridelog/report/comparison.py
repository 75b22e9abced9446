"""Two runs side by side: as JSON and on the terminal."""

from __future__ import annotations

from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

from ridelog.recording import AXLES
from ridelog.report.as_json import CONTRACT_VERSION, estimate_json
from ridelog.report.numbers import estimate_words, plus_minus_words
from ridelog.report.quantities import spoken
from ridelog.report.text import new_table, section, with_space
from ridelog.runs.compare import QUANTITIES, Comparison
from ridelog.runs.quantity_change import QuantityChange

UNSETTLED = "cannot tell"


def comparison_json(comparison: Comparison) -> dict[str, Any]:
    """Lay out a comparison as JSON, quantities under the contract's names.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    """
    field_of = {words: field for field, words in QUANTITIES}
    axles: dict[str, dict[str, Any]] = {
        name: {field: None for field, _ in QUANTITIES} for name in AXLES
    }
    comfort = None
    for change in comparison.quantities:
        if change.place in axles and change.name in field_of:
            axles[change.place][field_of[change.name]] = _change(change)
        else:
            comfort = {"place": change.place, **_change(change)}
    return {
        "contract": CONTRACT_VERSION,
        "first": comparison.first,
        "second": comparison.second,
        "setup_changes": list(comparison.setup),
        "axles": axles,
        "comfort": comfort,
        "notes": list(comparison.notes),
    }


def _change(change: QuantityChange) -> dict[str, Any]:
    minutes = change.minutes_to_settle
    return {
        "first": estimate_json(change.first),
        "second": estimate_json(change.second),
        "relative_change": estimate_json(change.change),
        "verdict": change.verdict,
        "smallest_detectable_relative_change": float(change.smallest_detectable),
        "minutes_to_settle": None if minutes is None else float(minutes),
        "method": change.method,
        "text": change.text,
    }


def comparison_text(comparison: Comparison) -> RenderableType:
    """Lay out a comparison for the terminal: what was set differently, then what came of it.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    """
    table = new_table("What changed", ("", "first", "second", "change [%]", "verdict"))
    for change in comparison.quantities:
        style = "" if change.verdict == UNSETTLED else "bold"
        table.add_row(
            f"{change.place} {change.name}",
            f"{plus_minus_words(change.first)} {change.unit}".rstrip(),
            f"{plus_minus_words(change.second)} {change.unit}".rstrip(),
            estimate_words(change.change, scale=100.0),
            Text(change.verdict, style=style),
        )
    unsettled = [change.text for change in comparison.quantities if change.verdict == UNSETTLED]
    settings = comparison.setup or ("nothing that the setup files tell",)
    return Group(
        Text(f"{comparison.first} against {comparison.second}", style="bold"),
        *section("Set differently", map(spoken, settings)),
        *with_space(table),
        *section("Not settled", unsettled),
        *section("Notes", map(spoken, comparison.notes)),
    )
