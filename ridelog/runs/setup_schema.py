"""What a setup file may say. Imports pydantic, so import this module inside functions only."""

from __future__ import annotations

import datetime
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from ridelog.car.fields import BareNumber, QuantityText
from ridelog.car.schema import CornerWeights, RideHeights, SpringRate

Click = Annotated[int, BareNumber(low=0, high=500, example=6, whole=True)]
TyrePressure = Annotated[
    float, QuantityText(kind="pressure", low=2e4, high=1.5e6, example="30 psi")
]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class ClicksPart(_Section):
    """Clicks by axle or corner."""

    front: Click | None = None
    rear: Click | None = None
    fl: Click | None = None
    fr: Click | None = None
    rl: Click | None = None
    rr: Click | None = None


class SpringRatePart(_Section):
    """Spring rates by axle or corner."""

    front: SpringRate | None = None
    rear: SpringRate | None = None
    fl: SpringRate | None = None
    fr: SpringRate | None = None
    rl: SpringRate | None = None
    rr: SpringRate | None = None


class TyrePressurePart(_Section):
    """Tyre pressures by axle or corner."""

    front: TyrePressure | None = None
    rear: TyrePressure | None = None
    fl: TyrePressure | None = None
    fr: TyrePressure | None = None
    rl: TyrePressure | None = None
    rr: TyrePressure | None = None


class SetupFile(_Section):
    """What was set for one run."""

    date: datetime.datetime | datetime.date | str | None = None
    note: str = ""
    clicks: ClicksPart = Field(default_factory=ClicksPart)
    bump_clicks: ClicksPart = Field(default_factory=ClicksPart)
    rebound_clicks: ClicksPart = Field(default_factory=ClicksPart)
    low_speed_bump_clicks: ClicksPart = Field(default_factory=ClicksPart)
    low_speed_rebound_clicks: ClicksPart = Field(default_factory=ClicksPart)
    high_speed_bump_clicks: ClicksPart = Field(default_factory=ClicksPart)
    high_speed_rebound_clicks: ClicksPart = Field(default_factory=ClicksPart)
    spring_rate: SpringRatePart = Field(default_factory=SpringRatePart)
    ride_height: RideHeights = Field(default_factory=RideHeights)
    corner_weight: CornerWeights = Field(default_factory=CornerWeights)
    tyre_pressure: TyrePressurePart = Field(default_factory=TyrePressurePart)
