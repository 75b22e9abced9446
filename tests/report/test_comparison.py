"""Two runs side by side, in words and as JSON."""

import io
import json

import pytest
from rich.console import Console

from ridelog.report.as_json import dump
from ridelog.report.comparison import comparison_json, comparison_text
from ridelog.runs.compare import Comparison
from ridelog.runs.quantity_change import QuantityChange
from tests.report.examples import between


def change(name, place, verdict, **values):
    settled = verdict != "cannot tell"
    return QuantityChange(
        name=name,
        place=place,
        unit=values.get("unit", ""),
        first=between(0.30, 0.01),
        second=between(0.36, 0.012),
        change=between(0.20, 0.04),
        verdict=verdict,
        smallest_detectable=0.05,
        minutes_to_settle=None if settled else 14.0,
        method="estimates",
        text=f"{place} {name}: in words.",
    )


COMPARISON = Comparison(
    first="a.csv",
    second="b.csv",
    setup=("front clicks 6 -> 9",),
    quantities=(
        change("damping ratio", "front", "better"),
        change("body frequency", "rear", "cannot tell", unit="Hz"),
        change("ride comfort (weighted rms)", "cabin", "worse", unit="m/s2"),
    ),
    notes=("a note",),
)


def test_json_uses_the_contracts_names():
    document = json.loads(dump(comparison_json(COMPARISON)))
    front = document["axles"]["front"]["damping_ratio"]
    assert front["relative_change"] == pytest.approx({"value": 0.20, "low": 0.16, "high": 0.24})
    assert front["verdict"] == "better"
    assert document["axles"]["front"]["body_frequency_hz"] is None
    assert document["axles"]["rear"]["body_frequency_hz"]["minutes_to_settle"] == 14.0
    assert document["comfort"]["place"] == "cabin"
    assert document["setup_changes"] == ["front clicks 6 -> 9"]


def printed(comparison):
    console = Console(file=io.StringIO(), width=120)
    console.print(comparison_text(comparison))
    return console.file.getvalue()


def test_text_names_settings_changes_and_what_is_not_settled():
    text = printed(COMPARISON)
    assert text.startswith("a.csv against b.csv")
    assert "- Front clicks 6 -> 9" in text
    row = next(line for line in text.splitlines() if line.startswith("front damping ratio"))
    assert "0.300 +-0.010" in row
    assert "20 (16 to 24)" in row
    assert "better" in row
    assert text.index("Not settled") < text.index("- rear body frequency: in words.")
    assert "- front damping ratio: in words." not in text


def test_no_setup_is_said():
    bare = Comparison(first="a.csv", second="b.csv", setup=(), quantities=(), notes=())
    assert "- Nothing that the setup files tell" in printed(bare)
