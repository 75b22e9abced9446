"""What a car file may say: sections, keys, kinds of values. pydantic checks, `load` assembles.

Imports pydantic, so import this module inside functions only.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from ridelog.car.fields import BareNumber, QuantityText, Share

# The bounds are sanity limits against slips of unit or decimal point, wide enough for anything
# from a kit car to a loaded truck (common practice, no source).
Wheelbase = Annotated[float, QuantityText(kind="length", low=0.8, high=10, example="2.794 m")]
Track = Annotated[float, QuantityText(kind="length", low=0.4, high=3.5, example="1.52 m")]
SprungMass = Annotated[float, QuantityText(kind="mass", low=20, high=20e3, example="780 kg")]
UnsprungMass = Annotated[float, QuantityText(kind="mass", low=2, high=3e3, example="86 kg")]
SpringRate = Annotated[float, QuantityText(kind="rate", low=500, high=5e6, example="450 lbf/in")]
TyreRate = Annotated[float, QuantityText(kind="rate", low=1e4, high=1e7, example="230 N/mm")]
SpringLength = Annotated[float, QuantityText(kind="length", low=0.001, high=1.5, example="250 mm")]
Price = Annotated[float, BareNumber(low=0, high=1e7, example=55)]
Gap = Annotated[float, QuantityText(kind="length", low=0, high=0.6, example="42 mm")]
Pitch = Annotated[float, QuantityText(kind="length", low=2e-4, high=0.02, example="1.5 mm")]
BarRate = Annotated[float, QuantityText(kind="rate", low=0, high=1e6, example="8 N/mm")]
RideHeight = Annotated[float, QuantityText(kind="length", low=-0.5, high=2, example="655 mm")]
CornerWeight = Annotated[float, QuantityText(kind="mass", low=5, high=1e4, example="310 kg")]
BodyFrequency = Annotated[
    float, QuantityText(kind="frequency", low=0.2, high=10, example="1.30 Hz")
]
SampleRate = Annotated[float, QuantityText(kind="frequency", low=0.01, high=1e6, example="500 Hz")]
Delay = Annotated[float, QuantityText(kind="time", low=-86400, high=86400, example="1.5 ms")]
DelaySpread = Annotated[float, QuantityText(kind="time", low=0, high=1, example="0.6 ms")]
MotionRatio = Annotated[float, BareNumber(low=0.2, high=2, example=0.61)]
DampingRatio = Annotated[float, BareNumber(low=0.01, high=2, example=0.35)]
Clicks = Annotated[int, BareNumber(low=0, high=500, example=18, whole=True)]
AnyNumber = Annotated[float, BareNumber(low=-1e12, high=1e12, example=0.0039)]
Ratio = Annotated[float, Share()]
ClicksFrom = Literal["soft", "stiff"]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class CarSection(_Section):
    """The whole car."""

    name: Annotated[str, Field(min_length=1, examples=["Saturday wagon"])]
    wheelbase: Wheelbase = Field(description="front to rear axle")
    clicks_from: ClicksFrom | None = Field(
        None, description="where you count clicks from: full soft or full stiff"
    )


class SpringSection(_Section):
    """More of the main spring than its rate; progressive ones by rate or load at some squashes."""

    free_length: SpringLength | None = Field(None, description="off the car, unloaded")
    block_length: SpringLength | None = Field(None, description="with its coils touching")
    rate_points: list[list[str]] | None = Field(
        None,
        description="squash from free length, and rate there",
        examples=[[["0 mm", "30 N/mm"], ["120 mm", "55 N/mm"]]],
    )
    load_points: list[list[str]] | None = Field(
        None,
        description="squash from free length, and load there",
        examples=[[["40 mm", "1300 N"], ["80 mm", "2900 N"], ["120 mm", "4900 N"]]],
    )


class HelperSpringSection(_Section):
    """A softer helper or tender spring on top of the main one."""

    rate: SpringRate
    free_length: SpringLength | None = None
    block_length: SpringLength | None = None
    closes_after: SpringLength | None = Field(
        None,
        description="its squash until its coils touch or its coupler stops it; in place of lengths",
    )


class InnerSpringSection(_Section):
    """A shorter spring inside the main one."""

    rate: SpringRate
    gap: SpringLength = Field(
        description="squash of the main spring from free length at which the inner one carries"
    )


class SpringOnSaleSection(_Section):
    """One spring you own or can buy."""

    rate: SpringRate
    name: str = Field("", examples=["blue, 250 long"])
    free_length: SpringLength | None = None
    block_length: SpringLength | None = None
    price: Price | None = Field(None, description="in any currency, the same for all")


class AxleSection(_Section):
    """One axle: masses for both corners together, rates per corner, the spring's at the damper."""

    layout: Literal["independent", "solid"] = Field(description="solid: live or beam axle")
    track: Track
    sprung_mass: SprungMass = Field(description="axle, both corners")
    unsprung_mass: UnsprungMass = Field(description="axle, both corners")
    spring_rate: SpringRate = Field(
        description="each, at the damper; catalogue figures are often 3-5 % off; the main spring's "
        "where there are several, that at ride height where it is progressive"
    )
    motion_ratio: MotionRatio = Field(
        description="damper travel / wheel travel, both wheels together"
    )
    tyre_rate: TyreRate | None = Field(None, description="each; estimated when left out")
    bump_gap: Gap | None = Field(None, description="at the damper, ride height to bump stop")
    droop_gap: Gap | None = Field(None, description="at the damper, ride height to full droop")
    damper_spacing: Track | None = Field(
        None, description="between the two dampers; solid axles only"
    )
    clicks: Clicks | None = Field(None, description="highest click number of the knob")
    bump_clicks: Clicks | None = Field(None, description="highest click number of the bump knob")
    rebound_clicks: Clicks | None = Field(
        None, description="highest click number of the rebound knob"
    )
    low_speed_bump_clicks: Clicks | None = Field(
        None, description="bump_clicks of a damper that has a high-speed bump knob too"
    )
    low_speed_rebound_clicks: Clicks | None = Field(
        None, description="rebound_clicks of a damper that has a high-speed rebound knob too"
    )
    high_speed_bump_clicks: Clicks | None = Field(
        None, description="highest click number of the high-speed bump knob"
    )
    high_speed_rebound_clicks: Clicks | None = Field(
        None, description="highest click number of the high-speed rebound knob"
    )
    dyno_sheet: str | None = Field(
        None,
        description="CSV beside the car file: a column for each knob (clicks, or bump_clicks and "
        "rebound_clicks), speed, bump and rebound force of one damper",
        examples=["front_dyno.csv"],
    )
    clicks_from: ClicksFrom | None = Field(None, description="overrides [car] for this axle")
    target_body_frequency: BodyFrequency | None = Field(None, description="on the tyres")
    target_damping_ratio: DampingRatio | None = None
    available_spring_rates: list[SpringRate] | None = Field(
        None, description="springs you own or can buy"
    )
    springs_on_sale: list[SpringOnSaleSection] | None = Field(
        None, description="the same with lengths and prices"
    )
    springs_on_sale_file: str | None = Field(
        None,
        description="the same as CSV beside the car file: rate, name, free_length, ...",
        examples=["springs.csv"],
    )
    spring: SpringSection | None = None
    helper_spring: HelperSpringSection | None = None
    inner_spring: InnerSpringSection | None = None
    perch_thread_pitch: Pitch | None = Field(None, description="height change per perch turn")
    bar_rate: BarRate | None = Field(
        None, description="anti-roll bar at one wheel, per travel of that wheel, the other held"
    )


class TolerancesSection(_Section):
    """How well the figures are known: one standard deviation."""

    sprung_mass: Ratio | None = None
    motion_ratio: Ratio | None = None
    tyre_rate: Ratio | None = None
    travel_gain: Ratio | None = None
    accelerometer_gain: Ratio | None = None
    clock_rate: Ratio | None = None
    channel_delay: DelaySpread | None = None


class TimeSection(_Section):
    """The time column: its name or number, and its unit (or "samples" or "ISO 8601")."""

    column: str | int = Field(examples=["time_ms"])
    unit: str | None = Field(None, examples=["s", "ms", "us", "samples", "ISO 8601"])


class ChannelSection(_Section):
    """One channel: reading x scale + offset in `unit`, or `points` of (reading, physical)."""

    column: str | int = Field(
        description="header text, or column number counted from 1", examples=["az1"]
    )
    unit: str | None = Field(None, examples=["mm", "g", "V"])
    sign: Literal[1, -1] = 1
    scale: AnyNumber | None = None
    offset: AnyNumber | None = None
    points: list[list[Any]] | None = Field(
        None, examples=[[["0.52 V", "-48 mm"], ["4.41 V", "61 mm"]]]
    )
    cross_axis: dict[str, AnyNumber] | None = Field(
        None,
        description="other columns of the same sensor; factor x reading is added, in `unit`",
        examples=[{"ax1": 0.008, "ay1": -0.004}],
    )
    file: str | None = Field(
        None, description="file beside the log; {stem} stands for the log's own name"
    )
    time: str | int | TimeSection | None = Field(None, description="time column of that file")
    delay: Delay | None = Field(None, description="how late the channel is")
    valid_from: Delay | None = Field(
        None, description="drop readings earlier in the file than this"
    )
    valid_range: list[str] | None = Field(
        None, description="[lowest, highest]; others are dropped", examples=[["0 m/s", "100 m/s"]]
    )


class LoggerSection(_Section):
    """How this car's logger writes its files."""

    time: str | int | TimeSection | None = None
    sample_rate: SampleRate | None = Field(
        None, description="only where the log has no time column"
    )
    channels: dict[str, ChannelSection] = Field(default_factory=dict)


class RideHeights(_Section):
    """Ride heights by axle or corner, however the owner measures them, but always alike."""

    front: RideHeight | None = None
    rear: RideHeight | None = None
    fl: RideHeight | None = None
    fr: RideHeight | None = None
    rl: RideHeight | None = None
    rr: RideHeight | None = None


class CornerWeights(_Section):
    """What four scales show, by axle (each wheel) or corner."""

    front: CornerWeight | None = None
    rear: CornerWeight | None = None
    fl: CornerWeight | None = None
    fr: CornerWeight | None = None
    rl: CornerWeight | None = None
    rr: CornerWeight | None = None


class CarFile(_Section):
    """A ridelog car file."""

    car: CarSection
    front: AxleSection
    rear: AxleSection
    ride_height: RideHeights = Field(
        default_factory=RideHeights, description="as measured before the work"
    )
    target_ride_height: RideHeights = Field(
        default_factory=RideHeights, description="as wanted after it"
    )
    corner_weight: CornerWeights = Field(
        default_factory=CornerWeights, description="from four scales"
    )
    tolerances: TolerancesSection = TolerancesSection()
    logger: LoggerSection = Field(default_factory=lambda: LoggerSection.model_validate({}))
    clicks_from: ClicksFrom | None = None


def car_json_schema() -> dict[str, Any]:
    """Describe car files as JSON Schema, for help and checks while typing in an editor.

    Returns
    -------
    dict
        The schema, draft 2020-12.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **CarFile.model_json_schema(),
    }
