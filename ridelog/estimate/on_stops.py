"""A car that lives on its stops: how often it hits them, and when springs cannot be told apart."""

from __future__ import annotations

from collections.abc import Mapping

from ridelog.estimate.result import CornerResult

#: Contacts a minute, all corners together, from which springs and dampers are not told without
#: travel. Of 48 simulated cars, 36 with stops 5 to 25 mm away: with body and hubs logged 3 of 22
#: axles beyond it had their frequency inside its interval (rms error 22 %), with body alone 4 of 6.
MOST_CONTACTS_PER_MINUTE = 80.0


def contacts_per_minute(corners: Mapping[str, CornerResult], duration_s: float) -> float:
    """Expected bump stop contacts a minute of the whole car, where jolts alone tell them.

    Parameters
    ----------
    corners : Mapping
        Results by corner; contacts without a depth were told by jolts.
    duration_s : float
        Length of the log [s].

    Returns
    -------
    float
        Sum of the contacts' probabilities over the minutes, made up for corners without a sensor;
        0 where every contact was seen by travel.

    References
    ----------
    Derived here: expectation of a sum.
    """
    told = [
        sum(contact.probability for contact in corner.bump_stop.contacts)
        for corner in corners.values()
        if corner.bump_stop is not None
        and all(contact.depth_mm is None for contact in corner.bump_stop.contacts)
        and corner.travel_mm is None
    ]
    if not told or duration_s <= 0:
        return 0.0
    return 4 * sum(told) / len(told) / (duration_s / 60)


def reason_on_stops(corners: Mapping[str, CornerResult], duration_s: float) -> str | None:
    """Why springs and dampers cannot be told from this log; None where stops are no reason.

    Parameters
    ----------
    corners : Mapping
        Results by corner.
    duration_s : float
        Length of the log [s].

    Notes
    -----
    A stop is a second spring, several times as stiff. Where it works most of the time nothing
    recorded between two hits is long enough to show the spring alone, and without travel nobody
    knows just when it works: frequencies come out up to a third too high, damping half as much
    again or more.

    References
    ----------
    Found on simulated cars, see `MOST_CONTACTS_PER_MINUTE`.
    """
    rate = contacts_per_minute(corners, duration_s)
    if rate < MOST_CONTACTS_PER_MINUTE:
        return None
    return (
        f"no springs and dampers: the jolts say that the car hits its bump stops about {rate:.0f} "
        "times a minute, and without travel sensors what the stops do cannot be told from what "
        "springs and dampers do; drive slower or a smoother road, see that the car is not too low "
        "or too heavily laden, or fit travel sensors"
    )
