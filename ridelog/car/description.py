"""A car as the estimators see it: frozen, in SI units, clicks counted from full soft."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from ridelog.car.springs import SpringOnSale, SpringStack


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """How well the owner's figures and sensors are known: one standard deviation, relative.

    Defaults are common practice (no source) for bathroom-scale corner weights, a motion ratio
    measured with a tape, trimmed accelerometers and a caliper-calibrated travel sensor. A tyre rate
    the owner states counts as measured; a guess from a table wants ten times this. `clock_rate` is
    the error of a logger's crystal or resonator.
    """

    sprung_mass: float = 0.01
    motion_ratio: float = 0.005
    tyre_rate: float = 0.01
    travel_gain: float = 0.004
    accelerometer_gain: float = 0.01
    channel_delay_s: float = 0.0006
    clock_rate: float = 0.0005


@dataclass(frozen=True, slots=True, kw_only=True)
class DynoPoint:
    """Force of one damper with its knobs at one place, at one speed.

    Clicks count from full soft, None where the damper has no such knob or the sheet does not tell
    it. Forces are positive, None in a stroke that was not measured. Names of knobs as in `Axle`.
    """

    speed_m_per_s: float
    bump_n: float | None = None
    rebound_n: float | None = None
    clicks: int | None = None
    bump_clicks: int | None = None
    rebound_clicks: int | None = None
    high_speed_bump_clicks: int | None = None
    high_speed_rebound_clicks: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Axle:
    """One axle; rates and masses as the owner states them, to be checked, not trusted.

    Masses are for the whole axle; rates are per corner, the spring's at the damper. Gaps are at the
    damper from ride height. `motion_ratio` is damper travel / wheel travel, both wheels together.
    `spring_rate_n_per_m` is that of all springs of a corner together at ride height; where the car
    file describes more than one rate, `spring_stack` holds it.
    Click counts are the highest click number, counted from full soft; None where there is no such
    knob. `bar_rate_n_per_m` is the anti-roll bar's at the wheel: force at one wheel per travel of
    that wheel while the other is held. Where a stroke has two
    knobs, `bump_clicks` or `rebound_clicks` is the low-speed one.
    """

    layout: Literal["independent", "solid"]
    track_m: float
    sprung_mass_kg: float
    unsprung_mass_kg: float
    spring_rate_n_per_m: float
    motion_ratio: float
    tyre_rate_n_per_m: float | None = None
    bump_gap_m: float | None = None
    droop_gap_m: float | None = None
    damper_spacing_m: float | None = None
    clicks: int | None = None
    bump_clicks: int | None = None
    rebound_clicks: int | None = None
    high_speed_bump_clicks: int | None = None
    high_speed_rebound_clicks: int | None = None
    dyno_sheet: tuple[DynoPoint, ...] = ()
    clicks_from: Literal["soft", "stiff"] = "soft"
    target_body_frequency_hz: float | None = None
    target_damping_ratio: float | None = None
    available_spring_rates_n_per_m: tuple[float, ...] = ()
    springs_on_sale: tuple[SpringOnSale, ...] = ()
    spring_stack: SpringStack | None = None
    perch_thread_pitch_m: float | None = None
    bar_rate_n_per_m: float | None = None

    @property
    def roll_lever_ratio(self) -> float:
        """Damper spacing over track on a solid axle, 1 on an independent one.

        Damper travel in pure roll is `motion_ratio` times this times wheel travel.
        """
        if self.layout == "solid" and self.damper_spacing_m is not None:
            return self.damper_spacing_m / self.track_m
        return 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelMapping:
    """How one channel is found in a log and turned into SI.

    `column` is header text or a column number from 1. The value is ``sign * (scale * reading +
    offset)`` in `unit` (inside the brackets plus factor * reading of each `cross_axis` column), or
    what the straight lines through `points` (reading in `unit`, value in SI) give. `unit` is None
    where the header names it. `file` is another file beside the log, with
    ``{stem}`` for the log's name without suffix; `time_column` and `time_unit` are that file's
    clock, which shares its zero with the log's. A channel that is late by `delay_s` shows what
    happened that much earlier. Values outside `valid_min` to `valid_max` (SI), or earlier in the
    file than `valid_from_s`, are no measurements.
    """

    column: str
    unit: str | None = None
    sign: int = 1
    scale: float = 1.0
    offset: float = 0.0
    points: tuple[tuple[float, float], ...] = ()
    file: str | None = None
    delay_s: float = 0.0
    valid_min: float | None = None
    valid_max: float | None = None
    valid_from_s: float | None = None
    time_column: str | None = None
    time_unit: str | None = None
    cross_axis: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Logger:
    """The car file's logger section.

    `time_unit` is a unit of time, "samples" (then `sample_rate_hz` is stated) or "ISO 8601"; None
    where the column's name tells. There is no default sample rate.
    """

    channels: Mapping[str, ChannelMapping] = field(default_factory=dict)
    time_column: str | None = None
    time_unit: str | None = None
    sample_rate_hz: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Car:
    """A whole car.

    Ride heights and weights by corner, where the owner wrote them: `ride_height_m` as measured
    before the work, `target_ride_height_m` as wanted, `corner_weight_kg` from four scales.
    """

    name: str
    wheelbase_m: float
    front: Axle
    rear: Axle
    logger: Logger = field(default_factory=Logger)
    tolerances: Tolerances = field(default_factory=Tolerances)
    ride_height_m: Mapping[str, float] = field(default_factory=dict)
    target_ride_height_m: Mapping[str, float] = field(default_factory=dict)
    corner_weight_kg: Mapping[str, float] = field(default_factory=dict)

    def axle(self, name: str) -> Axle:
        """Return the axle called ``front`` or ``rear``."""
        return {"front": self.front, "rear": self.rear}[name]

    @property
    def sprung_mass_kg(self) -> float:
        """Sprung mass of the whole car in kg."""
        return self.front.sprung_mass_kg + self.rear.sprung_mass_kg
