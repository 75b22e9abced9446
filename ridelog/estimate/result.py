"""What an analysis of one log says: numbers with intervals, in the contract's names and units.

These classes mirror the JSON of the contract field by field, so that writing it is a plain copy.
``None`` stands where the log cannot tell; `AnalysisResult.notes` then holds the reason.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ridelog.estimate.curves import Curves
from ridelog.recording import Gap, Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """One number and its 95 % interval, in the unit named by the field that holds it.

    `random_half_width` is the 95 % half-width from this log's noise alone,
    `systematic_half_width` what more driving cannot shrink (sensor gains, masses, motion ratio),
    `largest_contributor` names what to measure better. None where not told apart.
    """

    value: float
    low: float
    high: float
    random_half_width: float | None = None
    systematic_half_width: float | None = None
    largest_contributor: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleResult:
    """One axle. `method` says in words how; definitions are the contract's.

    `decay_damping_ratio` is what a free decay on the tyres shows: less than `damping_ratio` by
    (T / (K + T))^1.5 to second order. `catalogue_spring_error` is measured / stated spring rate
    minus 1; `tyre_rate_n_per_m` is given where the owner states none. Roll stiffness is that of
    springs and bar on their tyres, the bar's rate the force at one wheel, the other held.
    """

    method: str
    body_frequency_hz: Estimate | None = None
    spring_frequency_hz: Estimate | None = None
    damping_ratio: Estimate | None = None
    damping_ratio_bump: Estimate | None = None
    damping_ratio_rebound: Estimate | None = None
    decay_damping_ratio: Estimate | None = None
    wheel_hop_hz: Estimate | None = None
    wheel_rate_n_per_m: Estimate | None = None
    friction_n: Estimate | None = None
    catalogue_spring_error: Estimate | None = None
    tyre_rate_n_per_m: Estimate | None = None
    roll_stiffness_n_m_per_deg: Estimate | None = None
    bar_rate_n_per_m: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ForcePoint:
    """Damper force at one damper speed, positive in bump, friction excluded."""

    speed_mps: float
    force_n: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelUse:
    """Damper travel used, mm from static ride height, positive in bump."""

    min: float
    max: float
    p01: float
    p99: float
    rms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """One contact with a stop; `depth_mm` past the touch point, `speed_mps` of the damper there.

    Depth and speed are None where only the contact's signature in the acceleration shows.
    `probability` is 1 where travel shows the contact.
    """

    start_s: float
    end_s: float
    depth_mm: float | None
    probability: float = 1.0
    speed_mps: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StopContacts:
    """Contacts with one stop and the gap they were judged by."""

    gap_mm: Estimate | None = None
    contacts: tuple[Contact, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerResult:
    """One corner. Friction is that of the damper and of what moves with it."""

    damping_ratio: Estimate | None = None
    friction_n: Estimate | None = None
    damper_force: tuple[ForcePoint, ...] = ()
    travel_mm: TravelUse | None = None
    bump_stop: StopContacts | None = None
    top_out: StopContacts | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeCarResult:
    """The body as a whole: all that one body accelerometer can tell, and how it leans.

    The front axle's share of the roll stiffness as measured, and as the car file states it.
    """

    bounce_frequency_hz: Estimate | None = None
    bounce_damping_ratio: Estimate | None = None
    roll_gradient_deg_per_g: Estimate | None = None
    front_roll_stiffness_share: Estimate | None = None
    stated_front_roll_stiffness_share: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ComfortResult:
    """Vertical ride comfort by ISO 2631-1 at the place of one channel.

    `reaction` says it in words, `remarks` what the figures leave out.
    """

    place: str
    weighted_rms_mps2: float
    vdv_mps175: float
    mtvv_mps2: float
    crest_factor: float
    reaction: str = ""
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadResult:
    """Road roughness by ISO 8608; `waviness` is the exponent w of the fitted spectrum."""

    gd_n0_m3: Estimate | None
    iso8608_class: str | None
    waviness: Estimate | None = None
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LogInfo:
    """The log itself. `kind` is ``drive`` or ``bounce``; the speed is None where none is logged."""

    file: str
    kind: str
    duration_s: float
    sample_rate_hz: float
    gaps: tuple[Gap, ...] = ()
    channels: tuple[str, ...] = ()
    mean_speed_mps: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalysisResult:
    """All that one log tells.

    `weak_corner` names, by axle, a corner whose damper gives clearly less than its partner's.
    """

    log: LogInfo
    axles: Mapping[str, AxleResult]
    corners: Mapping[str, CornerResult]
    whole_car: WholeCarResult
    comfort: ComfortResult | None = None
    road: RoadResult | None = None
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()
    curves: Curves = field(default_factory=Curves)
    weak_corner: Mapping[str, str] = field(default_factory=dict)
