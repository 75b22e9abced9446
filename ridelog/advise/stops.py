"""Bump stops hit: how often, how hard, and where in the damper's travel."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.car.description import Axle
from ridelog.estimate.result import AnalysisResult, Contact
from ridelog.recording import CORNERS_OF_AXLE


@dataclass(frozen=True, slots=True, kw_only=True)
class StopSettings:
    """What counts as little or much; common practice, no source."""

    least_probability: float = 0.5  # contacts less certain are not counted
    short_gap_mm: float = 30.0  # at the damper; road cars commonly keep 40 mm and more
    shallow_mm: float = 5.0  # the soft first part of a rubber stop
    gap_doubt_mm: float = 4.0  # measured less than stated by more: the car has sagged
    seldom_per_minute: float = 0.3
    damping_step: float = 1.2  # more damping that is replayed: two clicks or so
    spring_step: float = 1.15  # stiffer springs that are replayed where none are advised
    most_raised_mm: float = 15.0  # at the damper; more changes the geometry and the droop left
    often_per_minute: float = 20.0  # both corners; on simulated drives the damping then reads wrong


@dataclass(frozen=True, slots=True, kw_only=True)
class StopEvidence:
    """Bump-stop contacts of one axle in one run. Depths and gaps in mm at the damper.

    `travel_share` is the gap over the travel from full droop to the stop's touch point: where in
    its stroke the damper stands at ride height is 1 less this. `time_share` is the share of the
    drive that one of the axle's stops was touched, `fastest_mps` the damper's speed at the hardest
    touch. None where the log or the car file cannot tell.
    """

    corners: tuple[str, ...]
    contacts: int
    per_minute: float
    deepest_mm: float | None
    measured_gap_mm: float | None
    stated_gap_mm: float | None
    depths_mm: tuple[float, ...] = ()
    per_km: float | None = None
    fastest_mps: float | None = None
    time_share: float | None = None
    travel_share: float | None = None

    @property
    def gap_mm(self) -> float | None:
        """Gap from ride height to the stop: as measured, else as stated."""
        return self.stated_gap_mm if self.measured_gap_mm is None else self.measured_gap_mm


def bump_stop_evidence(
    axle: Axle, axle_name: str, result: AnalysisResult, settings: StopSettings | None = None
) -> StopEvidence | None:
    """Gather the bump-stop contacts of one axle.

    Parameters
    ----------
    axle : Axle
        The axle.
    axle_name : str
        ``front`` or ``rear``.
    result : AnalysisResult
        One run's analysis.
    settings : StopSettings, optional
        What counts.

    Returns
    -------
    StopEvidence or None
        None without contacts.

    References
    ----------
    Contract: a contact is the damper compressed past the stop's touch point.
    """
    settings = settings or StopSettings()
    hits: dict[str, list[Contact]] = {}
    gaps: list[float] = []
    for corner in CORNERS_OF_AXLE[axle_name]:
        stop = result.corners[corner].bump_stop if corner in result.corners else None
        if stop is None:
            continue
        sure = [c for c in stop.contacts if c.probability >= settings.least_probability]
        if sure:
            hits[corner] = sure
        if stop.gap_mm is not None:
            gaps.append(stop.gap_mm.value)
    if not hits:
        return None
    contacts = [contact for sure in hits.values() for contact in sure]
    depths = [c.depth_mm for c in contacts if c.depth_mm is not None]
    speeds = [c.speed_mps for c in contacts if c.speed_mps is not None]
    length_s = max(result.log.duration_s, 1e-9)
    km = None if result.log.mean_speed_mps is None else result.log.mean_speed_mps * length_s / 1000
    gap_m, droop_m = axle.bump_gap_m, axle.droop_gap_m
    return StopEvidence(
        corners=tuple(hits),
        contacts=len(contacts),
        per_minute=len(contacts) / (length_s / 60),
        depths_mm=tuple(sorted(depths)),
        per_km=len(contacts) / km if km else None,
        fastest_mps=max(speeds) if speeds else None,
        time_share=sum(c.end_s - c.start_s for c in contacts) / length_s,
        travel_share=gap_m / (gap_m + droop_m) if gap_m and droop_m else None,
        deepest_mm=max(depths) if depths else None,
        measured_gap_mm=min(gaps) if gaps else None,
        stated_gap_mm=None if axle.bump_gap_m is None else axle.bump_gap_m * 1000,
    )
