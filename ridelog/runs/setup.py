"""What was set for one run: knobs, springs, heights, pressures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSetup:
    """The setup beside a log, in SI, clicks counted from full soft, keyed by corner.

    Empty mappings where the owner wrote nothing. Where a stroke has two knobs, `bump_clicks` or
    `rebound_clicks` is the low-speed one.
    """

    date: str | None = None
    note: str = ""
    clicks: Mapping[str, int] = field(default_factory=dict)
    bump_clicks: Mapping[str, int] = field(default_factory=dict)
    rebound_clicks: Mapping[str, int] = field(default_factory=dict)
    high_speed_bump_clicks: Mapping[str, int] = field(default_factory=dict)
    high_speed_rebound_clicks: Mapping[str, int] = field(default_factory=dict)
    spring_rate_n_per_m: Mapping[str, float] = field(default_factory=dict)
    ride_height_m: Mapping[str, float] = field(default_factory=dict)
    corner_weight_kg: Mapping[str, float] = field(default_factory=dict)
    tyre_pressure_pa: Mapping[str, float] = field(default_factory=dict)
