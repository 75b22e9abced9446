"""Flat ride: whether the rear catches up with the front after a bump, and at what speed."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, pi, sqrt

USUAL_RATIO = (1.10, 1.20)
"""Rear over front body frequency of road cars: common practice, no source."""
REMARK_RATIO = (1.05, 1.25)
"""Pairs outside this are remarked on: the usual range and what a log leaves open."""
CATCH_UP_CYCLES = 1.0
"""Cycles of the front after which both ends should move together."""
USUAL_SPEED_MPS = 80 / 3.6
"""Least speed to judge a pair at [m/s]; pitch is a matter of open roads."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatRide:
    """Front against rear body frequency.

    `ratio` is rear over front [1]. `flat_speed_mps` is the speed at which rear and front move
    together one cycle of the front after a bump (None where the rear is the slower end and never
    catches up). `left_over` is the share of the front's motion that damping leaves by then.
    `rear_for_speed_hz` is the rear frequency that would make `speed_mps` that speed (None where no
    rear frequency can).
    """

    front_hz: float
    rear_hz: float
    ratio: float
    flat_speed_mps: float | None
    speed_mps: float
    rear_for_speed_hz: float | None
    left_over: float


def flat_ride(
    front_hz: float,
    rear_hz: float,
    wheelbase_m: float,
    *,
    speed_mps: float | None = None,
    damping_ratio: float = 0.3,
) -> FlatRide:
    """Judge a pair of body frequencies for flat ride.

    Parameters
    ----------
    front_hz, rear_hz : float
        Body frequencies on the tyres [Hz].
    wheelbase_m : float
        Wheelbase [m].
    speed_mps : float, optional
        Speed the car is driven at [m/s]; 80 km/h where slower or not known.
    damping_ratio : float
        Damping ratio of both ends [1].

    Notes
    -----
    The front moves as sin 2 pi f t, the rear as sin 2 pi r (t - wheelbase / speed). Both end their
    cycle together when wheelbase / speed = n (1 / f - 1 / r), here with n = 1; the pitch is then
    gone. Each end is taken to move by itself (dynamic index k^2 / (a b) = 1), damped alike, which
    lengthens both periods by 1 / sqrt(1 - damping ratio^2).

    References
    ----------
    M. Olley's flat ride as told by T. D. Gillespie, Fundamentals of Vehicle Dynamics (1992), ch. 5,
    and Milliken & Milliken, Race Car Vehicle Dynamics (1995): from memory. The periods' rule is
    derived here.
    """
    stretch = 1 / sqrt(1 - min(damping_ratio, 0.9) ** 2)
    speed = max(speed_mps or 0.0, USUAL_SPEED_MPS)
    lag = CATCH_UP_CYCLES * stretch * (1 / front_hz - 1 / rear_hz)
    period = 1 / front_hz - wheelbase_m / speed / (CATCH_UP_CYCLES * stretch)
    return FlatRide(
        front_hz=front_hz,
        rear_hz=rear_hz,
        ratio=rear_hz / front_hz,
        flat_speed_mps=wheelbase_m / lag if lag > 0 else None,
        speed_mps=speed,
        rear_for_speed_hz=1 / period if period > 0 else None,
        left_over=exp(-2 * pi * CATCH_UP_CYCLES * damping_ratio * stretch),
    )


def flat_ride_reasons(measured: FlatRide | None, wanted: FlatRide | None) -> tuple[str, ...]:
    """Remark on front against rear body frequency, as measured and as targeted.

    Parameters
    ----------
    measured, wanted : FlatRide or None
        None where one of the two frequencies is not known.
    """
    pairs = ((measured, "rear body frequency is"), (wanted, "rear target is"))
    return tuple(
        f"The {what} {_ratio_words(pair)} {_damping_words(pair)}"
        for pair, what in pairs
        if pair is not None and not REMARK_RATIO[0] <= pair.ratio <= REMARK_RATIO[1]
    )


def _ratio_words(pair: FlatRide) -> str:
    where = "above" if pair.ratio > 1 else "below"
    begin = (
        f"{abs(pair.ratio - 1) * 100:.0f} % {where} the front's ({pair.front_hz:.2f} and "
        f"{pair.rear_hz:.2f} Hz); 10-20 % above is common practice for a flat ride (after Olley), "
        "so that the rear catches up after a bump."
    )
    if pair.flat_speed_mps is None:
        return f"{begin} The slower rear never does: the car pitches after every bump."
    speed = f"{pair.flat_speed_mps * 3.6:.0f} km/h"
    return f"{begin} With this wheelbase it does so within one cycle at {speed}, later when slower."


def _damping_words(pair: FlatRide) -> str:
    words = (
        f"Stiff damping takes away the reason: {pair.left_over * 100:.0f} % of the motion is left "
        "after that cycle."
    )
    if pair.rear_for_speed_hz is not None and pair.rear_for_speed_hz < 2 * pair.front_hz:
        words = (
            f"For {pair.speed_mps * 3.6:.0f} km/h a rear of {pair.rear_for_speed_hz:.2f} Hz would "
            f"suit a front of {pair.front_hz:.2f} Hz. {words}"
        )
    return words
