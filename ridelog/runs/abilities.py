"""Which questions a log's sensors can answer, and what a check of a log says."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.estimate.comfort import ComfortSettings
from ridelog.estimate.curves import StripCurve
from ridelog.estimate.result import LogInfo
from ridelog.recording import (
    AXLES,
    BODY_CHANNELS,
    CORNERS_OF_AXLE,
    HUB_CHANNELS,
    TRAVEL_CHANNELS,
    Problem,
    Recording,
)

SLOWEST_RATE_HZ = 45.0
"""Below it no estimator of frequency or damping works: wheel hop folds into the body's band."""

BALANCE_BY_TRAVEL = "travel and body sensors together, the surest way"
BALANCE_BY_HUBS = "hub and body sensors together"
TOO_SLOW = "sampled too slowly"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ability:
    """One question a log can or cannot answer, and by which sensors or for want of which."""

    key: str
    question: str
    possible: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """What a look at the sensors and the clock says, before any analysis."""

    log: LogInfo
    can_tell: tuple[Ability, ...]
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()
    strips: tuple[StripCurve, ...] = ()


def abilities(recording: Recording, kind: str) -> tuple[Ability, ...]:
    """Tell which questions the sensors of a recording can answer, if the drive is good enough.

    Parameters
    ----------
    recording : Recording
        The clean recording, channels at fault left out.
    kind : str
        ``drive`` or ``bounce``.
    """
    return (
        *(_axle_ability(recording, kind, axle) for axle in AXLES),
        _whole_car_ability(recording, kind),
        _force_ability(recording, kind),
        _stop_ability(recording, kind),
        _comfort_ability(recording, kind),
    )


def _ability(key: str, question: str, way: str, lack: str) -> Ability:
    # `way` is empty where there is none; then `lack` says what is missing.
    return Ability(key=key, question=question, possible=bool(way), reason=way or lack)


def _axle_ability(recording: Recording, kind: str, axle: str) -> Ability:
    # The same order of choice as in ridelog.estimate.drive.
    body, travel = (_at_both_axles(recording, sensor) for sensor in ("body", "travel"))
    slow = recording.sample_rate_hz < SLOWEST_RATE_HZ
    if slow:
        way = ""
    elif kind == "bounce":
        way = "the decay after the push" if body else ""
    elif _balance(recording):
        way = BALANCE_BY_TRAVEL if recording.has(*TRAVEL_CHANNELS) else BALANCE_BY_HUBS
    elif body:
        way = "body accelerometers over both axles; wide intervals"
    else:
        way = "travel alone; wide intervals" if travel else ""
    lack = TOO_SLOW if slow else "needs a body accelerometer over each axle, or travel sensors"
    question = f"{axle} body frequency and damping"
    return _ability(f"{axle}_frequency_and_damping", question, way, lack)


def _whole_car_ability(recording: Recording, kind: str) -> Ability:
    slow = recording.sample_rate_hz < SLOWEST_RATE_HZ
    if kind == "bounce":
        known = _at_both_axles(recording, "body")
        way, lack = "both axles together", "needs body accelerometers over both axles"
    else:
        known = _on_body(recording) or _at_both_axles(recording, "travel")
        way, lack = "any sensor of the body's motion", "needs a sensor of the body's motion"
    way = way if known and not slow else ""
    lack = TOO_SLOW if slow else lack
    return _ability("whole_car_bounce", "bounce of the car as a whole", way, lack)


def _force_ability(recording: Recording, kind: str) -> Ability:
    way = "the same force balance" if kind == "drive" and _balance(recording) else ""
    lack = "needs a drive with body and travel (or hub) sensors at all corners"
    return _ability("damper_force", "damper force against damper speed", way, lack)


def _stop_ability(recording: Recording, kind: str) -> Ability:
    if kind != "drive":
        way = ""
    elif any(name in recording.channels for name in TRAVEL_CHANNELS):
        way = "travel against the gaps"
    else:
        way = "only by the jolt in the acceleration" if _on_body(recording) else ""
    question = "bump-stop and top-out contacts"
    return _ability("stop_contacts", question, way, "needs a drive with travel or body sensors")


def _comfort_ability(recording: Recording, kind: str) -> Ability:
    slow = recording.sample_rate_hz < ComfortSettings().lowest_rate_hz
    possible = kind == "drive" and _on_body(recording) and not slow
    way = "an accelerometer on the body" if possible else ""
    lack = TOO_SLOW if slow else "needs a drive with an accelerometer on the body"
    return _ability("comfort", "ride comfort", way, lack)


def _balance(recording: Recording) -> bool:
    relative = recording.has(*TRAVEL_CHANNELS) or recording.has(*HUB_CHANNELS)
    return recording.has(*BODY_CHANNELS) and relative


def _at_both_axles(recording: Recording, sensor: str) -> bool:
    return all(
        any(recording.has(f"{sensor}_{corner}") for corner in CORNERS_OF_AXLE[axle])
        for axle in AXLES
    )


def _on_body(recording: Recording) -> bool:
    return any(name in recording.channels for name in (*BODY_CHANNELS, "cabin", "seat"))
