"""What a set of sensors cannot be checked for, because nothing else in the log bears witness."""

from __future__ import annotations

from collections.abc import Collection

from ridelog.recording import BODY_CHANNELS, HUB_CHANNELS, TRAVEL_CHANNELS


def unchecked(channels: Collection[str]) -> tuple[str, ...]:
    """Say which gains, delays and exchanges cannot be checked with these sensors.

    Parameters
    ----------
    channels : collection of str
        The channels of a log.

    References
    ----------
    Follows from the identities in `ridelog.condition.identity` and the forces in `force_model`.
    """
    travel, body, hub = (
        [name for name in kind if name in channels]
        for kind in (TRAVEL_CHANNELS, BODY_CHANNELS, HUB_CHANNELS)
    )
    every = (*travel, *body, *hub)
    bound = len(body) == 4 and len(travel) in (0, 4) and len(hub) in (0, 4)
    words = []
    if every and not bound:
        words.append(f"gain and delay of {', '.join(every)} cannot be checked with these sensors")
        if len(travel) == 4 or len(hub) == 4:
            words[0] += "; only left against right of an axle, not which of the two"
    if len(every) == 4 and 4 in (len(travel), len(body), len(hub)):
        words.append("left and right exchanged on one axle look alike on both: check both then")
    return tuple(words)
