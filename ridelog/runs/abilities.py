"""Which questions a log's sensors can answer, and what a check of a log says."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.estimate.curves import StripCurve
from ridelog.estimate.result import LogInfo
from ridelog.recording import (
    AXLES,
    BODY_CHANNELS,
    CORNERS_OF_AXLE,
    TRAVEL_CHANNELS,
    Problem,
    Recording,
)


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
    """Tell which questions the channels of a recording can answer.

    Parameters
    ----------
    recording : Recording
        The clean recording.
    kind : str
        ``drive`` or ``bounce``.
    """
    axles = tuple(_axle_ability(recording, kind, axle) for axle in AXLES)
    travel = recording.has(*TRAVEL_CHANNELS)
    some_travel = any(name in recording.channels for name in TRAVEL_CHANNELS)
    body = any(name in recording.channels for name in (*BODY_CHANNELS, "cabin", "seat"))
    driven = kind == "drive"
    force = driven and travel and all(_force_balance(recording, axle) for axle in AXLES)
    return (
        *axles,
        Ability(
            key="damper_force",
            question="damper force against damper speed",
            possible=force,
            reason="travel and body sensors together" if force else "needs travel and body sensors",
        ),
        Ability(
            key="stop_contacts",
            question="bump-stop and top-out contacts",
            possible=driven and (some_travel or body),
            reason=_stop_reason(driven, some_travel, body),
        ),
        Ability(
            key="comfort",
            question="ride comfort",
            possible=driven and body,
            reason="an accelerometer on the body" if body else "needs an accelerometer on the body",
        ),
    )


def _force_balance(recording: Recording, axle: str) -> bool:
    left, right = CORNERS_OF_AXLE[axle]
    return recording.has(f"body_{left}", f"body_{right}", f"travel_{left}", f"travel_{right}")


def _axle_ability(recording: Recording, kind: str, axle: str) -> Ability:
    reason = _axle_method(recording, kind, axle)
    return Ability(
        key=f"{axle}_frequency_and_damping",
        question=f"{axle} body frequency and damping",
        possible=bool(reason),
        reason=reason or "needs a body accelerometer over each axle, or travel sensors",
    )


def _axle_method(recording: Recording, kind: str, axle: str) -> str:
    left, right = CORNERS_OF_AXLE[axle]
    have = {
        sensor: any(f"{sensor}_{corner}" in recording.channels for corner in (left, right))
        for sensor in ("travel", "body", "hub")
    }
    if kind == "bounce":
        return "its decay after the push" if have["body"] or have["travel"] else ""
    both_ends = all(
        any(f"body_{corner}" in recording.channels for corner in CORNERS_OF_AXLE[end])
        for end in AXLES
    )
    ways = (
        (have["travel"] and have["body"], "travel and body sensors together, the surest way"),
        (have["hub"] and have["body"], "hub and body sensors together"),
        (both_ends, "body accelerometers over both axles; wide intervals"),
        (have["travel"], "travel alone; wide intervals"),
    )
    return next((reason for possible, reason in ways if possible), "")


def _stop_reason(driven: bool, travel: bool, body: bool) -> str:
    if not driven:
        return "needs a drive"
    if travel:
        return "travel against the gaps"
    return "only by their mark in the acceleration" if body else "needs travel or body sensors"
