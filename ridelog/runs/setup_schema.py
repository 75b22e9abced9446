"""What a setup file may say. Imports pydantic, so import this module inside functions only."""

from __future__ import annotations

import datetime
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from ridelog.car.fields import BareNumber, QuantityText
from ridelog.car.schema import SpringRate

Click = Annotated[int, BareNumber(low=0, high=500, example=6, whole=True)]
RideHeight = Annotated[float, QuantityText(kind="length", low=-0.5, high=2, example="655 mm")]
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


class RideHeightPart(_Section):
    """Ride heights by axle or corner, however the owner measures them."""

    front: RideHeight | None = None
    rear: RideHeight | None = None
    fl: RideHeight | None = None
    fr: RideHeight | None = None
    rl: RideHeight | None = None
    rr: RideHeight | None = None


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
    spring_rate: SpringRatePart = Field(default_factory=SpringRatePart)
    ride_height: RideHeightPart = Field(default_factory=RideHeightPart)
    tyre_pressure: TyrePressurePart = Field(default_factory=TyrePressurePart)
