"""Which estimator for which log, and the results of one log put together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from ridelog.car.description import Car
from ridelog.condition.segments import log_kind
from ridelog.errors import SignalError
from ridelog.estimate.balance.roll_stiffness import RollFindings
from ridelog.estimate.changing_rate import at_ride_height
from ridelog.estimate.comfort import comfort_of_recording
from ridelog.estimate.curves import Curves, DecayCurve, ForceCurve, SpectrumCurve
from ridelog.estimate.on_stops import reason_on_stops
from ridelog.estimate.result import (
    AnalysisResult,
    AxleResult,
    ComfortResult,
    CornerResult,
    Estimate,
    ForcePoint,
    LogInfo,
    RoadResult,
    WholeCarResult,
)
from ridelog.estimate.rolling import with_rolling
from ridelog.estimate.stop_contacts import MeasuredGaps
from ridelog.recording import (
    AXLES,
    BODY_CHANNELS,
    CORNERS_OF_AXLE,
    HUB_CHANNELS,
    TRAVEL_CHANNELS,
    FloatArray,
    Problem,
    Recording,
)

# Rate error of a logger that loses samples, one standard deviation: a ceramic resonator's (common
# practice, no source).
LOSSY_CLOCK_RATE = 0.003

NO_BOUNCE_OF_ONE_SENSOR = (
    "no bounce of the whole car: a bounce test tells it from the body frequencies of both axles, "
    "which takes a body accelerometer over each"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AxleFindings:
    """What one main method found; empty where it could tell nothing."""

    axles: Mapping[str, AxleResult] = field(default_factory=dict)
    corner_damping_ratio: Mapping[str, Estimate] = field(default_factory=dict)
    corner_friction_n: Mapping[str, Estimate] = field(default_factory=dict)
    damper_force: Mapping[str, tuple[ForcePoint, ...]] = field(default_factory=dict)
    travel_m: Mapping[str, FloatArray] = field(default_factory=dict)
    gaps: MeasuredGaps = field(default_factory=MeasuredGaps)
    weak_corner: Mapping[str, str] = field(default_factory=dict)
    forces: tuple[ForceCurve, ...] = ()
    spectra: tuple[SpectrumCurve, ...] = ()
    decays: tuple[DecayCurve, ...] = ()
    notes: tuple[str, ...] = ()
    roll: RollFindings | None = None


def estimate_log(
    recording: Recording,
    car: Car,
    problems: tuple[Problem, ...] = (),
    notes: tuple[str, ...] = (),
) -> AnalysisResult:
    """Everything one log tells about a car.

    Parameters
    ----------
    recording : Recording
        The log, made ready; channels that are not to be trusted left out.
    car : Car
        The car it was driven with.
    problems : tuple of Problem
        What was wrong with the log, for the record.
    notes : tuple of str
        What making it ready had to say.

    Notes
    -----
    The best method the sensors allow is used: force balance with travel or hubs beside the body,
    free decay for a standing car, spectra for acceleration or travel alone. Methods are never
    averaged.

    References
    ----------
    Derived here: choice of method by the sensors at hand.
    """
    kind = log_kind(recording)
    car, clock_notes = _with_clock_doubt(car, problems)
    found = _axle_findings(recording, car, kind)
    axles, rate_notes = at_ride_height(found.axles, recording, car)
    found = replace(found, axles=axles, notes=(*found.notes, *rate_notes))
    corners, curves, corner_notes = _corners(recording, car, found, kind)
    reason = reason_on_stops(corners, recording.duration_s)
    if reason is not None:
        found = AxleFindings(notes=(reason,))
        corners = {name: _without_dampers(corner) for name, corner in corners.items()}
        curves = replace(curves, forces=())
    whole, whole_curves, whole_notes = _whole_car(recording, car, found, kind, reason)
    whole, roll_notes = with_rolling(whole, recording, car, found.roll, kind)
    comfort, comfort_notes = _comfort(recording, kind)
    road, road_notes = _road(recording, car, kind)
    all_notes = (
        *notes,
        *clock_notes,
        *found.notes,
        *whole_notes,
        *roll_notes,
        *corner_notes,
        *comfort_notes,
        *road_notes,
    )
    return AnalysisResult(
        log=LogInfo(
            file=recording.source.file,
            kind=kind,
            duration_s=recording.duration_s,
            sample_rate_hz=recording.sample_rate_hz,
            gaps=recording.gaps,
            channels=tuple(recording.channels),
            mean_speed_mps=_mean_speed(recording),
        ),
        axles={name: found.axles.get(name, AxleResult(method="none")) for name in AXLES},
        corners=corners,
        whole_car=whole,
        comfort=comfort,
        road=road,
        problems=problems,
        notes=tuple(dict.fromkeys(all_notes)),
        curves=replace(curves, spectra=(*found.spectra, *whole_curves)),
        weak_corner=dict(found.weak_corner),
    )


def _mean_speed(recording: Recording) -> float | None:
    """Mean of the logged speed [m/s], None without one."""
    if not recording.has("speed"):
        return None
    import numpy as np

    speed = recording.channels["speed"][recording.valid]
    known = speed[np.isfinite(speed)]
    return float(known.mean()) if len(known) else None


def _with_clock_doubt(car: Car, problems: tuple[Problem, ...]) -> tuple[Car, tuple[str, ...]]:
    """Trust a clock less that jittered, ran backwards or lost samples."""
    if not any(problem.code in ("clock", "gap") for problem in problems):
        return car, ()
    rate = max(car.tolerances.clock_rate, LOSSY_CLOCK_RATE)
    note = (
        f"the logger lost samples or its clock stumbled, so its rate is trusted to "
        f"{100 * rate:.1f} % only, and so is every frequency"
    )
    return replace(car, tolerances=replace(car.tolerances, clock_rate=rate)), (note,)


def _axle_findings(recording: Recording, car: Car, kind: str) -> AxleFindings:
    """Run the best method for the sensors at hand; a refusal becomes a note."""
    try:
        if kind == "bounce":
            return _from_bounce(recording, car)
        if recording.has(*BODY_CHANNELS) and (
            recording.has(*TRAVEL_CHANNELS) or recording.has(*HUB_CHANNELS)
        ):
            return _from_balance(recording, car)
        return _from_few_sensors(recording, car)
    except SignalError as error:
        return AxleFindings(notes=(f"no results per axle: {error}",))


def _from_balance(recording: Recording, car: Car) -> AxleFindings:
    """Force balance; where it refuses, what fewer sensors would have told."""
    try:
        return _balance_findings(recording, car)
    except SignalError as error:
        found = _from_few_sensors(recording, car)
        return replace(found, notes=(str(error), *found.notes))


def _balance_findings(recording: Recording, car: Car) -> AxleFindings:
    from ridelog.estimate.balance.body_spectra import body_spectra
    from ridelog.estimate.balance.drive_balance import drive_balance
    from ridelog.estimate.balance.results import balance_results

    balance = drive_balance(recording, car)
    results = balance_results(balance.fit, car)
    return AxleFindings(
        axles=results.axles,
        corner_damping_ratio=results.corner_damping_ratio,
        corner_friction_n=results.corner_friction_n,
        damper_force=results.damper_force,
        gaps=MeasuredGaps(bump=balance.bump_gap_mm, droop=balance.droop_gap_mm),
        weak_corner=balance.weak_corner,
        forces=results.curves,
        notes=balance.notes,
        spectra=body_spectra(balance.fit, car),
        roll=results.roll,
    )


def _from_bounce(recording: Recording, car: Car) -> AxleFindings:
    from ridelog.estimate.free_decay import bounce_results

    axles, decays, notes = bounce_results(recording, car)
    return AxleFindings(axles=axles, decays=tuple(decays), notes=tuple(notes))


def _from_few_sensors(recording: Recording, car: Car) -> AxleFindings:
    from ridelog.estimate.spectral_fit import travel_only_results, two_body_results

    for kind, method in (("body", two_body_results), ("travel", travel_only_results)):
        both_axles = all(
            any(recording.has(f"{kind}_{corner}") for corner in CORNERS_OF_AXLE[axle])
            for axle in AXLES
        )
        if both_axles:
            axles, curves, notes = method(recording, car)
            return AxleFindings(axles=axles, spectra=tuple(curves), notes=tuple(notes))
    return AxleFindings(
        notes=(
            "no results per axle: that takes a body accelerometer over each axle, or a travel "
            "sensor at each axle",
        )
    )


def _without_dampers(corner: CornerResult) -> CornerResult:
    return replace(corner, damping_ratio=None, friction_n=None, damper_force=())


def _whole_car(
    recording: Recording, car: Car, found: AxleFindings, kind: str, reason: str | None
) -> tuple[WholeCarResult, tuple[SpectrumCurve, ...], tuple[str, ...]]:
    """Bounce of the whole body: from the axles where they are known, else from the body sensor."""
    from ridelog.estimate.axles_to_car import whole_car_of_axles
    from ridelog.estimate.whole_car import whole_car_result

    if reason is not None:
        return WholeCarResult(), (), ()
    known = whole_car_of_axles(found.axles, car)
    if known is not None:
        return known, (), ()
    if kind == "bounce":  # what follows asks for a road
        return WholeCarResult(), (), (NO_BOUNCE_OF_ONE_SENSOR,)
    if not any(recording.has(name) for name in (*BODY_CHANNELS, "cabin", "seat")):
        return WholeCarResult(), (), ()
    try:
        return whole_car_result(recording, car)
    except SignalError as error:
        return WholeCarResult(), (), (f"no bounce of the whole car: {error}",)


def _comfort(recording: Recording, kind: str) -> tuple[ComfortResult | None, tuple[str, ...]]:
    if kind == "bounce":
        return None, ("comfort: a bounce test is not a ride",)
    try:
        comfort = comfort_of_recording(recording)
    except SignalError as error:
        return None, (str(error),)
    if comfort is None:
        return None, ("comfort: the log has no seat, cabin or body accelerometer",)
    return comfort, comfort.remarks


def _road(recording: Recording, car: Car, kind: str) -> tuple[RoadResult | None, tuple[str, ...]]:
    if kind == "bounce":
        return None, ()
    from ridelog.estimate.road_profile import road_of_recording

    try:
        road = road_of_recording(recording, car)
    except SignalError as error:
        return None, (str(error),)
    return road, road.remarks


def _corners(
    recording: Recording, car: Car, found: AxleFindings, kind: str
) -> tuple[dict[str, CornerResult], Curves, tuple[str, ...]]:
    """Corners, with the curves that their pictures need."""
    from ridelog.estimate.corners import corner_results

    results, travels, speeds, notes = corner_results(recording, car, found.gaps, kind)
    corners = {
        name: replace(
            result,
            damping_ratio=found.corner_damping_ratio.get(name),
            friction_n=found.corner_friction_n.get(name),
            damper_force=found.damper_force.get(name, ()),
        )
        for name, result in results.items()
    }
    curves = Curves(travels=travels, speeds=speeds, forces=found.forces, decays=found.decays)
    return corners, curves, notes
