"""Contacts with the stops at every corner, with whatever sensors a log has."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.estimate.contact_signature import SignatureSettings, bump_signatures, touch_point
from ridelog.estimate.contacts import Stop, find_all_contacts
from ridelog.estimate.hub_travel import travel_of_hubs
from ridelog.estimate.jolts import HubClues
from ridelog.estimate.result import Contact, Estimate, StopContacts
from ridelog.recording import (
    AXLE_OF_CORNER,
    BODY_CHANNELS,
    CORNERS,
    HUB_CHANNELS,
    FloatArray,
    Recording,
)

#: How well an owner measures a gap with a tape on a car with rubber stops: 95 % half-width [m]
#: (common practice, no source).
STATED_GAP_HALF_WIDTH_M = 3e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerStops:
    """Stops of one corner; None where the log cannot tell, the reason in `notes`."""

    bump: StopContacts | None
    droop: StopContacts | None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredGaps:
    """Gaps [mm] found from the drive itself, by corner, for gaps the car file does not state."""

    bump: Mapping[str, Estimate] = field(default_factory=dict)
    droop: Mapping[str, Estimate] = field(default_factory=dict)


def stop_contacts(
    recording: Recording,
    car: Car,
    *,
    travel: Mapping[str, FloatArray] | None = None,
    measured: MeasuredGaps | None = None,
) -> Mapping[str, CornerStops]:
    """Contacts with bump and droop stops at every corner with a travel or body sensor.

    Parameters
    ----------
    recording : Recording
        The log.
    car : Car
        The car.
    travel : Mapping, optional
        Damper travel [m] by corner where it is known better than the travel channels say.
    measured : MeasuredGaps, optional
        Gaps for stops the car file does not state.

    Returns
    -------
    Mapping
        Stops by corner.

    Notes
    -----
    Travel past the gap where there is travel, see `find_contacts`; else the signature of bump stops
    in the body's acceleration, see `bump_signatures`. Top-out is not told without travel.

    References
    ----------
    Derived here: choice of method by the sensors at hand.
    """
    own = travel or {}
    gaps = measured or MeasuredGaps()
    signed = _signatures(recording, car, own)
    found = {}
    for corner in CORNERS:
        axle = car.axle(AXLE_OF_CORNER[corner])
        position = own.get(corner, recording.channels.get(f"travel_{corner}"))
        if position is not None:
            found[corner] = _by_travel(recording, position, axle, corner, gaps)
        elif corner in signed:
            found[corner] = _by_signature(signed[corner], axle, corner)
    return found


def _by_travel(
    recording: Recording, travel: FloatArray, axle: Axle, corner: str, gaps: MeasuredGaps
) -> CornerStops:
    bump_gap = _gap(axle.bump_gap_m, gaps.bump.get(corner))
    droop_gap = _gap(axle.droop_gap_m, gaps.droop.get(corner))
    notes = _gap_notes(axle, corner, bump_gap, droop_gap)
    stops = _past_gaps(recording, travel, {"bump": bump_gap, "droop": droop_gap})
    return CornerStops(bump=stops["bump"], droop=stops["droop"], notes=notes)


def _gap_notes(
    axle: Axle, corner: str, bump_gap: Estimate | None, droop_gap: Estimate | None
) -> tuple[str, ...]:
    """What to know of gaps that are missing, or that only the drive tells."""
    both = (
        ("bump", "bump_gap", bump_gap, axle.bump_gap_m),
        ("droop", "droop_gap", droop_gap, axle.droop_gap_m),
    )
    missing = tuple(
        f"{corner}: no contacts with the {name} stop, because the car file has no {key} and the "
        "log does not show where that stop begins"
        for name, key, gap, _ in both
        if gap is None
    )
    found = tuple(
        f"{corner}: contacts with the {name} stop are counted from a gap found in this log, "
        f"{gap.value:.0f} mm ({gap.low:.0f} to {gap.high:.0f}); light ones may be missed or made "
        f"up, so measure it on the car and write {key} into the car file"
        for name, key, gap, stated in both
        if gap is not None and stated is None
    )
    return (*missing, *found)


def _gap(stated_m: float | None, measured: Estimate | None) -> Estimate | None:
    """Gap [mm] as stated by the owner, else as measured, else None."""
    if stated_m is None:
        return measured
    return Estimate(
        value=stated_m * 1e3,
        low=(stated_m - STATED_GAP_HALF_WIDTH_M) * 1e3,
        high=(stated_m + STATED_GAP_HALF_WIDTH_M) * 1e3,
        largest_contributor="the car file's gap",
    )


def _past_gaps(
    recording: Recording, travel: FloatArray, gaps: Mapping[Stop, Estimate | None]
) -> dict[Stop, StopContacts | None]:
    known = {stop: gap.value / 1e3 for stop, gap in gaps.items() if gap is not None}
    contacts = find_all_contacts(travel, recording.sample_rate_hz, known, valid=recording.valid)
    return {
        stop: None if gap is None else StopContacts(gap_mm=gap, contacts=contacts[stop])
        for stop, gap in gaps.items()
    }


def _signatures(
    recording: Recording, car: Car, own: Mapping[str, FloatArray]
) -> Mapping[str, tuple[Contact, ...]]:
    """Contacts told by body acceleration at the corners without travel."""
    corners = [corner for corner in CORNERS if recording.has(f"body_{corner}")]
    without = [c for c in corners if c not in own and not recording.has(f"travel_{c}")]
    if not without:
        return {}
    axles = {corner: car.axle(AXLE_OF_CORNER[corner]) for corner in corners}
    body = {corner: recording.channels[f"body_{corner}"] for corner in corners}
    touch = {corner: touch_point(axles[corner]) for corner in corners}
    found = bump_signatures(
        body,
        touch,
        recording.sample_rate_hz,
        hubs=hub_clues(recording, car) if recording.has(*BODY_CHANNELS, *HUB_CHANNELS) else None,
        gap_known=all(axle.bump_gap_m is not None for axle in axles.values()),
        valid=np.asarray(recording.valid),
    )
    return {corner: found[corner] for corner in without}


def hub_clues(recording: Recording, car: Car) -> dict[str, HubClues]:
    """What the four hubs tell of contacts, by corner.

    Parameters
    ----------
    recording : Recording
        A log with body and hub accelerometers at all corners.
    car : Car
        Masses, motion ratios and gaps.

    References
    ----------
    See `travel_of_hubs`; the push is Newton's second law for the unsprung mass.
    """
    hub = np.stack([recording.channels[name] for name in HUB_CHANNELS])
    body = np.stack([recording.channels[name] for name in BODY_CHANNELS])
    travel = travel_of_hubs(hub, body, car, recording.sample_rate_hz)
    typical_m = SignatureSettings().typical_gap_m
    clues = {}
    for number, corner in enumerate(CORNERS):
        axle = car.axle(AXLE_OF_CORNER[corner])
        gap_m = axle.bump_gap_m if axle.bump_gap_m is not None else typical_m
        lighter = axle.unsprung_mass_kg / axle.sprung_mass_kg
        clues[corner] = HubClues(
            push_m_per_s2=(body[number] - hub[number]) * lighter,
            hub_m_per_s2=hub[number],
            past_m=travel[number] - gap_m,
        )
    return clues


def _by_signature(contacts: tuple[Contact, ...], axle: Axle, corner: str) -> CornerStops:
    note = (
        f"{corner}: no travel sensor, so bump stop contacts are told by the jolts they give the "
        "body, each with its probability; soft ones stay unseen, and top-out cannot be told"
    )
    gap = _gap(axle.bump_gap_m, None)
    return CornerStops(bump=StopContacts(gap_mm=gap, contacts=contacts), droop=None, notes=(note,))
