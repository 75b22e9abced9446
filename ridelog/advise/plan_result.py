"""What a planned measurement is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ridelog.runs.plan_inputs import WantedWidths


@dataclass(frozen=True, slots=True, kw_only=True)
class Width:
    """Relative 95 % half-width of a number: after a minute the part that shrinks, and what lasts.

    `source` says where it comes from, `remedy` what to measure better where lasting rules. `wide`
    is what one axle in four exceeds after a minute, where it is a usual width.
    """

    quantity: str
    place: str
    shrinking: float
    lasting: float
    source: str
    remedy: str
    wide: float | None = None

    def after(self, seconds: float) -> float:
        """Half-width after so many seconds of driving [-]."""
        shrunk = self.shrinking**2 * 60.0 / seconds
        return float((shrunk + self.lasting**2) ** 0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """How long to drive for one wish at one axle; `seconds` None where no length reaches it."""

    width: Width
    wanted: float
    seconds: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HumpPlan:
    """One hump: highest speed [m/s] by the car's own figures, and what the dampers do there."""

    speed_m_per_s: float
    travel_m: Mapping[str, float]
    damper_speed_m_per_s: Mapping[str, float]
    gap_known: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """One thing to do, in order: its name, what to do, and what it tells."""

    name: str
    do: str
    tells: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The whole measurement.

    `bounce` says whether a bounce test tells anything. `road` is an ISO 8608 class, `seconds` one
    drive's length at `speed_m_per_s`, `repeats` how often; `needs` say what it is for.
    """

    sensors: str
    bounce: bool
    wish: WantedWidths
    road: str
    road_words: str
    speed_m_per_s: float
    seconds: float
    repeats: int
    needs: tuple[Need, ...]
    hump: HumpPlan
    steps: tuple[PlanStep, ...]
    safety: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def total_s(self) -> float:
        """All driving together [s]."""
        return self.seconds * self.repeats
