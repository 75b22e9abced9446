"""What to turn or fit next, in the contract's names; clicks counted from full soft."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ridelog.advise.flat_ride import FlatRide
from ridelog.advise.springs import SpringAdvice
from ridelog.advise.stop_remedies import StopRemedy
from ridelog.advise.stops import StopEvidence
from ridelog.estimate.result import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A setting now and next; None where the car has no such setting or it is not known."""

    now: float | None
    next: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSummary:
    """One run of the car: its knobs by corner and what was measured per axle.

    `side_damping_ratio` holds bump and rebound of each axle.
    """

    file: str
    clicks: Mapping[str, int | None]
    damping_ratio: Mapping[str, Estimate | None]
    body_frequency_hz: Mapping[str, Estimate | None] = field(default_factory=dict)
    bump_clicks: Mapping[str, int | None] = field(default_factory=dict)
    rebound_clicks: Mapping[str, int | None] = field(default_factory=dict)
    side_damping_ratio: Mapping[str, Mapping[str, Estimate | None]] = field(default_factory=dict)
    note: str = ""
    date: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KnobLaw:
    """Damping ratio expected at every click: median and 95 % band."""

    clicks: tuple[int, ...]
    damping_ratio: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleAdvice:
    """Advice for one axle.

    `state` is ``turn``, ``repeat`` (drive again, the log cannot tell yet), ``done`` or
    ``unknown`` (nothing measured). `bump_clicks` and `rebound_clicks` are for dampers with two
    knobs. `direction` is ``stiffer`` or ``softer`` where damping must change, also where the clicks
    are not known. `weak_corner` names a damper that is tired: the knobs wait until it is seen to.
    `springs` and `bump_stops` are what the words on them rest on.
    """

    clicks: Change
    predicted_damping_ratio: Estimate | None
    spring_rate_n_per_m: Change
    predicted_body_frequency_hz: Estimate | None
    clicks_with_next_spring: int | None
    perch_turns: float | None
    done: bool
    state: str
    reasons: tuple[str, ...]
    probability_within_10_percent: float | None = None
    bump_clicks: Change | None = None
    rebound_clicks: Change | None = None
    knob_law: KnobLaw | None = None
    side_laws: Mapping[str, KnobLaw] = field(default_factory=dict)
    direction: str | None = None
    weak_corner: str | None = None
    springs: SpringAdvice | None = None
    bump_stops: StopEvidence | None = None
    bump_stop_remedies: tuple[StopRemedy, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """Advice for the car; `flat_ride` holds the measured pair of frequencies and the target's."""

    runs: tuple[RunSummary, ...]
    axles: Mapping[str, AxleAdvice]
    done: bool
    next_run: str
    cautions: tuple[str, ...]
    notes: tuple[str, ...] = ()
    flat_ride: Mapping[str, FlatRide | None] = field(default_factory=dict)
