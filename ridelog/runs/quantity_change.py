"""One quantity in two runs: the change, its interval, a verdict and what would settle it."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.estimate.result import Estimate
from ridelog.runs.block_statistics import BlockSettings, LogChange, seconds_to_settle

NOTHING_SEEN = 4.0
"""A change this many times smaller than what would surely show is no change to speak of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityChange:
    """One quantity in both runs.

    `change` is second over first minus 1 with its 95 % interval. `verdict` is ``better`` or
    ``worse`` (nearer to or further from the target, smoother or rougher), ``changed`` (more than
    chance, but no better or worse) or ``cannot tell``. `smallest_detectable` is the relative change
    that such a pair of drives shows nine times out of ten. `minutes_to_settle` is the driving in
    all that would settle a change of the size found; None where settled, or where no length would.
    `method` is ``paired blocks``, ``blocks`` or ``estimates``.
    """

    name: str
    place: str
    unit: str
    first: Estimate
    second: Estimate
    change: Estimate
    verdict: str
    smallest_detectable: float
    minutes_to_settle: float | None
    method: str
    text: str


def quantity_change(
    name: str,
    place: str,
    unit: str,
    values: tuple[Estimate, Estimate],
    change: LogChange,
    *,
    verdict: str,
    driven_s: float,
    method: str,
    settings: BlockSettings,
) -> QuantityChange:
    """Put one quantity's comparison together.

    Parameters
    ----------
    name, place, unit : str
        What, where, and in which unit (empty for ratios).
    values : tuple of Estimate
        First and second run, in `unit`.
    change : LogChange
        Log of second over first.
    verdict : str
        As in `QuantityChange`.
    driven_s : float
        Driving behind the change, both runs together [s].
    method : str
        As in `QuantityChange`.
    settings : BlockSettings
        Spread from run to run.

    References
    ----------
    Derived here.
    """
    ratio = change.as_ratio()
    settle_s = None if change.proven else seconds_to_settle(change, driven_s, settings)
    relative = Estimate(value=ratio.value - 1, low=ratio.low - 1, high=ratio.high - 1)
    minutes = None if settle_s is None else settle_s / 60
    return QuantityChange(
        name=name,
        place=place,
        unit=unit,
        first=values[0],
        second=values[1],
        change=relative,
        verdict=verdict,
        smallest_detectable=change.smallest_detectable,
        minutes_to_settle=minutes,
        method=method,
        text=_text(f"{place} {name}", unit, values, relative, verdict)
        + _outlook(relative, verdict, change.smallest_detectable, minutes),
    )


def _text(
    what: str, unit: str, values: tuple[Estimate, Estimate], change: Estimate, verdict: str
) -> str:
    """Say the values, the change and the verdict."""
    first, second = (f"{value.value:.3g}" for value in values)
    suffix = f" {unit}" if unit else ""
    percent = [f"{round(100 * p):+d}" for p in (change.value, change.low, change.high)]
    return (
        f"{what}: {first} -> {second}{suffix}, {percent[0]} % "
        f"(95 %: {percent[1]} to {percent[2]} %): {verdict}"
    )


def _outlook(change: Estimate, verdict: str, smallest: float, minutes: float | None) -> str:
    """Say what such drives can show and what would settle it."""
    if verdict != "cannot tell":
        return "."
    if abs(change.value) < smallest / NOTHING_SEEN:
        return f"; a change of {100 * smallest:.0f} % or more would have shown."
    seen = f"; such drives surely show changes from {100 * smallest:.0f} % up"
    if minutes is None:
        return f"{seen}. A change this small takes several drives to and fro, not longer ones."
    size = f"{100 * change.value:+.0f} %"
    return f"{seen}. About {minutes:.0f} minutes in all would settle {size}."
