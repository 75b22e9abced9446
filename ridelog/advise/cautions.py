"""The cautions that go with advice: those that always hold, and those the advice calls for."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Occasions:
    """What the advice asks of the owner, or what the log shows, that can hurt someone."""

    springs_change: bool = False
    stops_hit: bool = False
    little_damping: bool = False
    dampers_come_off: bool = False


ALWAYS = (
    "Start the recording before you set off and look at it after you stop: never watch a screen "
    "while driving. Drive within the law and your own limits.",
    "Turn knobs with the car standing on level ground, brake on, wheels chocked. Go under it only "
    "on rated stands, never on a jack alone.",
)
ON_STANDS = (
    "Car on level ground, brake on, wheels chocked. Go under it only on rated stands, never on a "
    "jack alone."
)
LOADED = (
    "A loaded spring can kill, also when a coil-over comes apart. Use the right compressor or have "
    "a workshop do it, with the car on rated stands and the axle supported."
)
COIL_BIND = (
    "Before driving on other springs check that the coils do not bind at full bump and stay seated "
    "at full droop."
)
CLEARANCE = (
    "After any change of ride height check at full lock and full bump that wheels, tyres, brake "
    "lines and axle clear everything, and have alignment and headlamps set."
)
STOPS = (
    "The car hits its bump stops: hard contacts break parts and can throw it off line. Go slower "
    "over such bumps until that is put right."
)
SOFT = (
    "With little damping the car floats and may bounce off its line: try the new setting at low "
    "speed on an empty road first."
)
LAW = (
    "Local codes and the word of a licensed workshop come before anything said here; some changes "
    "need an inspection before the car goes back on public roads."
)


def cautions(occasions: Occasions) -> tuple[str, ...]:
    """List the cautions that belong to an advice.

    Parameters
    ----------
    occasions : Occasions
        What the advice asks for.

    Returns
    -------
    tuple of str
        What the car does now first, then the work, then what always holds.
    """
    chosen: list[str] = []
    if occasions.stops_hit:
        chosen.append(STOPS)
    if occasions.little_damping:
        chosen.append(SOFT)
    if occasions.springs_change or occasions.dampers_come_off:
        chosen.append(LOADED)
    if occasions.springs_change:
        chosen.append(COIL_BIND)
    # Raising is among the remedies against hit stops.
    if occasions.springs_change or occasions.stops_hit:
        chosen.append(CLEARANCE)
    return (*chosen, *ALWAYS, LAW)
