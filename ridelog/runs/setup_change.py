"""What was set differently for two runs, in words."""

from __future__ import annotations

from collections.abc import Mapping

from ridelog.car.description import Car
from ridelog.car.springs import main_rate_n_per_m
from ridelog.recording import AXLE_OF_CORNER, CORNERS
from ridelog.runs.setup import RunSetup

SETTINGS: tuple[tuple[str, str, float, str], ...] = (
    ("clicks", "clicks", 1.0, ""),
    ("bump_clicks", "bump clicks", 1.0, ""),
    ("rebound_clicks", "rebound clicks", 1.0, ""),
    ("high_speed_bump_clicks", "high-speed bump clicks", 1.0, ""),
    ("high_speed_rebound_clicks", "high-speed rebound clicks", 1.0, ""),
    ("spring_rate_n_per_m", "spring rate", 1e-3, " N/mm"),
    ("ride_height_m", "ride height", 1e3, " mm"),
    ("tyre_pressure_pa", "tyre pressure", 1e-5, " bar"),
)
"""Field of `RunSetup`, its name, and the factor and unit it is told in."""


def setup_changes(first: RunSetup | None, second: RunSetup | None, car: Car) -> tuple[str, ...]:
    """Say what was set differently for two runs.

    Parameters
    ----------
    first, second : RunSetup or None
        What was set; None where nothing was written.
    car : Car
        The car, which says from which end its owner counts clicks.

    Returns
    -------
    tuple of str
        One line per setting and corner, ``fl clicks 6 -> 9 (from full soft)``; springs not
        named are those of the car file, and what is known of one run only is no change.
    """
    if first is None or second is None:
        return ()
    lines: list[str] = []
    for field, name, factor, unit in SETTINGS:
        before, after = (_settings(car, setup, field) for setup in (first, second))
        for corner in CORNERS:
            if corner in before and corner in after and before[corner] != after[corner]:
                then, now = (
                    f"{factor * _owner_value(car, field, corner, side):.4g}"
                    for side in (before, after)
                )
                count = _counting(car, field, corner)
                lines.append(f"{corner} {name} {then} -> {now}{unit}{count}")
    return tuple(lines)


def _settings(car: Car, setup: RunSetup, field: str) -> Mapping[str, float]:
    """One kind of setting by corner, springs from the car file where the setup is silent."""
    written: Mapping[str, float] = getattr(setup, field)
    if field != "spring_rate_n_per_m":
        return written
    usual = {c: main_rate_n_per_m(car.axle(AXLE_OF_CORNER[c])) for c in CORNERS}
    return {**usual, **written}


def _owner_value(car: Car, field: str, corner: str, values: Mapping[str, float]) -> float:
    """A setting as the owner counts it."""
    axle = car.axle(AXLE_OF_CORNER[corner])
    if not field.endswith("clicks") or axle.clicks_from == "soft":
        return values[corner]
    last = getattr(axle, field)
    return values[corner] if last is None else last - values[corner]


def _counting(car: Car, field: str, corner: str) -> str:
    """From which end clicks count."""
    if not field.endswith("clicks"):
        return ""
    return f" (from full {car.axle(AXLE_OF_CORNER[corner]).clicks_from})"
