"""How a spring sits in its damper's travel: room before its coils touch, load at full droop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.advise.spring_rates import body_frequency_hz
from ridelog.car.description import Axle
from ridelog.car.spring_law import (
    SpringLaw,
    helper_closing_load_n,
    load_at_squash_n,
    main_squash_m,
    rate_at_load_n_per_m,
    squash_at_load_m,
)
from ridelog.car.springs import spring_load_n

STOP_SQUASH_M = 0.010
"""How far a rubber stop gives when it is hit hard [m]; 10-15 mm is common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RateAtTravel:
    """Spring rate and body frequency for small motions about a damper travel (bump positive)."""

    travel_m: float
    rate_n_per_m: float
    body_frequency_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringFit:
    """One corner's springs within the damper's travel; lengths in m at the damper.

    `bind_travel_m` is the travel from ride height to touching coils of the main spring (None
    without free and block length); `needed_travel_m` what bump takes: gap and the stop's own
    squash, or what a drive has shown if that was more. At full droop the springs still carry
    `droop_load_n` or are loose by `loose_m` (None without a droop gap). `helper_closes_m` is the
    travel from ride height at which the helper closes, below zero where it is closed at ride
    height. `over_travel` is empty for springs of one rate.
    """

    squash_m: float
    bind_travel_m: float | None
    needed_travel_m: float | None
    droop_load_n: float | None
    loose_m: float | None
    helper_closes_m: float | None = None
    over_travel: tuple[RateAtTravel, ...] = ()

    @property
    def binds(self) -> bool:
        """Whether the coils touch before the bump stop is squashed."""
        if self.bind_travel_m is None or self.needed_travel_m is None:
            return False
        return self.bind_travel_m < self.needed_travel_m

    @property
    def loose(self) -> bool:
        """Whether the springs are loose at full droop."""
        return self.loose_m is not None and self.loose_m > 0


def spring_fit(
    axle: Axle,
    law: SpringLaw,
    mass_kg: float,
    tyre_rate_n_per_m: float,
    *,
    free_length_m: float | None,
    block_length_m: float | None,
    used_travel_m: float = 0.0,
) -> SpringFit:
    """See how springs sit in the damper's travel.

    Parameters
    ----------
    axle : Axle
        Load at ride height, motion ratio, gaps.
    law : SpringLaw
        The springs.
    mass_kg : float
        Sprung mass of the corner that goes with the measured body frequency [kg].
    tyre_rate_n_per_m : float
        Tyre rate [N/m].
    free_length_m, block_length_m : float or None
        Of the main spring, unloaded and with its coils touching [m].
    used_travel_m : float
        Greatest travel in bump that any drive showed [m].

    Notes
    -----
    The motion ratio is taken as the same over the travel, and ride height as restored at the perch.

    References
    ----------
    Derived here: the springs carry the corner's weight over the motion ratio at ride height, and
    travel adds to their squash.
    """
    load = spring_load_n(axle)
    squash = float(squash_at_load_m(law, load))
    bind = None
    if free_length_m is not None and block_length_m is not None:
        touching = free_length_m - block_length_m
        bind = float(_travel_at_main_squash(law, touching) - squash)
    droop = None if axle.droop_gap_m is None else squash - axle.droop_gap_m
    closing = helper_closing_load_n(law)
    return SpringFit(
        squash_m=squash,
        bind_travel_m=bind,
        needed_travel_m=None
        if axle.bump_gap_m is None
        else max(axle.bump_gap_m + STOP_SQUASH_M, used_travel_m),
        droop_load_n=None if droop is None else float(load_at_squash_n(law, droop)),
        loose_m=None if droop is None else max(-droop, 0.0),
        helper_closes_m=None if closing is None else float(squash_at_load_m(law, closing)) - squash,
        over_travel=_over_travel(axle, law, squash, mass_kg, tyre_rate_n_per_m),
    )


def _travel_at_main_squash(law: SpringLaw, main_m: float) -> float:
    """Squash of the whole stack at which the main spring is squashed so far [m]."""
    low, high = 0.0, 1e7
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if main_squash_m(law, middle) < main_m else (low, middle)
    return float(squash_at_load_m(law, high))


def _over_travel(
    axle: Axle, law: SpringLaw, squash_m: float, mass_kg: float, tyre_rate_n_per_m: float
) -> tuple[RateAtTravel, ...]:
    """Rate and frequency from full droop to the bump stop; nothing where the rate is one."""
    if len(law.squash_m) == 1 and law.helper_rate_n_per_m is None:
        return ()
    droop = 0.04 if axle.droop_gap_m is None else axle.droop_gap_m
    bump = 0.04 if axle.bump_gap_m is None else axle.bump_gap_m
    travels = np.array([-droop, -droop / 2, 0.0, bump / 2, bump])
    seated = travels[squash_m + travels > 0]
    rates = rate_at_load_n_per_m(law, load_at_squash_n(law, squash_m + seated))
    lever = axle.motion_ratio**2
    return tuple(
        RateAtTravel(
            travel_m=float(travel),
            rate_n_per_m=float(rate),
            body_frequency_hz=body_frequency_hz(float(rate) * lever, mass_kg, tyre_rate_n_per_m),
        )
        for travel, rate in zip(seated, rates, strict=True)
    )
