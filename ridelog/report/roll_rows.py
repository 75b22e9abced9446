"""How the body leans, as table rows for the terminal and the page."""

from __future__ import annotations

from ridelog.estimate.result import AnalysisResult, Estimate
from ridelog.recording import AXLES
from ridelog.report.numbers import interval_words, value_words

RollRow = tuple[str, str, str]


def roll_rows(result: AnalysisResult) -> tuple[RollRow, ...]:
    """Rows of words, value and interval; empty where nothing of rolling is known.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    """
    whole = result.whole_car
    rows = [
        _row("roll gradient", whole.roll_gradient_deg_per_g, "deg/g"),
        _row("front share of roll stiffness", whole.front_roll_stiffness_share, "%", 100.0),
        _row("the same by the car file", whole.stated_front_roll_stiffness_share, "%", 100.0),
    ]
    for name in AXLES:
        axle = result.axles.get(name)
        if axle is not None:
            rows.append(_row(f"{name} roll stiffness", axle.roll_stiffness_n_m_per_deg, "N m/deg"))
            rows.append(_row(f"{name} anti-roll bar", axle.bar_rate_n_per_m, "N/mm", 0.001))
    return tuple(row for row in rows if row is not None)


def _row(words: str, estimate: Estimate | None, unit: str, scale: float = 1.0) -> RollRow | None:
    if estimate is None:
        return None
    return words, value_words(estimate, unit, scale), interval_words(estimate, scale)
