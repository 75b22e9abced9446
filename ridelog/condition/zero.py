"""Travel that is not zero at ride height."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.condition.order_statistics import median
from ridelog.condition.signals import Checked, Signals
from ridelog.condition.standing import standing_mask
from ridelog.recording import CORNERS_OF_AXLE, TRAVEL_CHANNELS, BoolArray, Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroSettings:
    """`standing_m` is the contract's limit at standstill.

    Without a standstill the mean of driving must do. Dampers stiffer one way jack a sound car by
    up to 12 mm, both sides of an axle alike; so `driving_m` must be exceeded by the channel and by
    its distance from its axle partner (`alone_m` where it has none).
    """

    standing_m: float = 0.005
    driving_m: float = 0.006
    alone_m: float = 0.008


def mend_zero(signals: Signals, settings: ZeroSettings | None = None) -> Checked:
    """Find travel channels whose zero is off, and move it.

    Parameters
    ----------
    signals : Signals
        The log on its even base, travel in m.

    Returns
    -------
    Checked
    """
    settings = settings or ZeroSettings()
    standing = standing_mask(signals.channels, ~signals.missing, signals.sample_rate_hz)
    problems = []
    at_rest = bool(standing.any())
    levels = _levels(signals, standing if at_rest else ~signals.missing)
    for name, level in levels.items():
        offset = level if at_rest else _driving_offset(name, levels, settings)
        if abs(offset) <= (settings.standing_m if at_rest else settings.driving_m):
            continue
        signals = signals.with_channel(name, signals.channels[name] - offset)
        where = "at standstill" if at_rest else "in the mean of driving"
        text = f"{name} reads {1000 * level:+.1f} mm {where} instead of zero at ride height"
        if not at_rest:
            text = f"{text} (its zero is off, or the dampers jack the car)"
        text = f"{text}; moved by {-1000 * offset:+.1f} mm for the analysis"
        problems.append(Problem(code="zero", channel=name, text=text, mended=True))
    return Checked(signals=signals, problems=tuple(problems))


def _levels(signals: Signals, where: BoolArray) -> dict[str, float]:
    levels = {}
    for name in TRAVEL_CHANNELS:
        if name in signals.channels:
            here = signals.channels[name][where & signals.believable(name)]
            if len(here):
                levels[name] = float(median(here))
    return levels


def _driving_offset(name: str, levels: dict[str, float], settings: ZeroSettings) -> float:
    """Part of a driving mean that its axle partner does not share; 0 where it is no fault."""
    corner = name.removeprefix("travel_")
    pair = next(corners for corners in CORNERS_OF_AXLE.values() if corner in corners)
    partner = f"travel_{pair[1] if corner == pair[0] else pair[0]}"
    level = levels[name]
    if partner not in levels:
        return level if abs(level) > settings.alone_m else 0.0
    if abs(level) <= max(settings.driving_m, abs(levels[partner])):
        return 0.0
    return level - levels[partner]
