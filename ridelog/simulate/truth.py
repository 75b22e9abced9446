"""The true values of a simulated log, by the contract's definitions.

Worked out from the simulated car's own figures; nothing here is shared with the estimators.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np

from ridelog.recording import AXLES, CORNERS, FloatArray
from ridelog.simulate.dampers import damper_force_n
from ridelog.simulate.road import Road, iso8608_class
from ridelog.simulate.true_car import TrueAxle, TrueCar

FORCE_SPEEDS_M_PER_S = (0.025, -0.025, 0.05, -0.05, 0.1, -0.1, 0.2, -0.2, 0.3, -0.3)
SECANT_SPEED_M_PER_S = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleTruth:
    """True values of one axle, named and defined as in the results."""

    body_frequency_hz: float
    spring_frequency_hz: float
    damping_ratio: float
    damping_ratio_bump: float
    damping_ratio_rebound: float
    wheel_hop_hz: float
    wheel_rate_n_per_m: float
    friction_n: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerTruth:
    """True values of one corner.

    `force` maps a signed damper speed in m/s (as ``+0.050``) to newtons, friction excluded.
    Contacts are (start s, end s, depth mm), in the log's own time.
    """

    damping_ratio: float
    force: dict[str, float]
    bump_stop: tuple[tuple[float, float, float], ...] = ()
    top_out: tuple[tuple[float, float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeCarTruth:
    """The body as one mass on all four corners: heave held free of pitch and roll."""

    bounce_frequency_hz: float
    bounce_damping_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadTruth:
    """The road as drawn."""

    gd_n0_m3: float
    exponent: float
    iso8608_class: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """All true values of one simulated log."""

    axles: dict[str, AxleTruth]
    corners: dict[str, CornerTruth]
    whole_car: WholeCarTruth
    road: RoadTruth | None = None
    remarks: tuple[str, ...] = field(default=())

    def as_json(self) -> dict[str, Any]:
        """Return plain data for a JSON file."""
        return asdict(self)


def truth_of(
    car: TrueCar,
    *,
    road: Road | None = None,
    time_s: FloatArray | None = None,
    damper_travel_m: FloatArray | None = None,
) -> Truth:
    """Work out the true values of a car, and of one log where its travel is given.

    Parameters
    ----------
    car : TrueCar
        The car as it is.
    road : Road, optional
        The road it was driven on.
    time_s : FloatArray, optional
        The log's time at each row of `damper_travel_m` [s], shape (n,).
    damper_travel_m : FloatArray, optional
        True damper travel [m], shape (n, 4).
    """
    corners = {}
    for place, corner in enumerate(CORNERS):
        axle = car.axle("front" if place < 2 else "rear")
        contacts: tuple[tuple[tuple[float, float, float], ...], ...] = ((), ())
        if time_s is not None and damper_travel_m is not None:
            travel = damper_travel_m[:, place]
            contacts = (
                contacts_past(time_s, travel, axle.stops.bump_gap_m),
                contacts_past(time_s, -travel, axle.stops.droop_gap_m),
            )
        corners[corner] = _corner(axle, place % 2, contacts)
    return Truth(
        axles={name: _axle(car.axle(name)) for name in AXLES},
        corners=corners,
        whole_car=_whole_car(car),
        road=None
        if road is None
        else RoadTruth(
            gd_n0_m3=road.gd_n0_m3,
            exponent=road.exponent,
            iso8608_class=iso8608_class(road.gd_n0_m3),
        ),
    )


def contacts_past(
    time_s: FloatArray, travel_m: FloatArray, gap_m: float
) -> tuple[tuple[float, float, float], ...]:
    """Return (start s, end s, depth mm) of every stretch in which travel is past a gap."""
    past = np.zeros(len(travel_m) + 2, dtype=bool)
    past[1:-1] = travel_m > gap_m
    starts = np.flatnonzero(past[1:] & ~past[:-1])
    ends = np.flatnonzero(~past[1:] & past[:-1])
    return tuple(
        (
            float(time_s[a]),
            float(time_s[min(b, len(time_s) - 1)]),
            float(1000 * (travel_m[a:b].max() - gap_m)),
        )
        for a, b in zip(starts.tolist(), ends.tolist(), strict=True)
    )


def _wheel_damping(axle: TrueAxle, side: int) -> tuple[float, float]:
    """Secant wheel damping in bump and rebound [N s/m]."""
    speed = np.array([SECANT_SPEED_M_PER_S, -SECANT_SPEED_M_PER_S])
    secant = damper_force_n(*axle.curves(side), speed) / speed * axle.motion_ratio**2
    return float(secant[0]), float(secant[1])


def _critical(axle: TrueAxle) -> float:
    return float(2 * np.sqrt(axle.wheel_rate_n_per_m * axle.sprung_mass_kg / 2))


def _axle(axle: TrueAxle) -> AxleTruth:
    mass, wheel, tyre = axle.sprung_mass_kg / 2, axle.wheel_rate_n_per_m, axle.tyre_rate_n_per_m
    ride = wheel * tyre / (wheel + tyre)
    bump, rebound = np.mean([_wheel_damping(axle, side) for side in (0, 1)], axis=0)
    hop = np.sqrt((wheel + tyre) / (axle.unsprung_mass_kg / 2))
    return AxleTruth(
        body_frequency_hz=float(np.sqrt(ride / mass) / (2 * np.pi)),
        spring_frequency_hz=float(np.sqrt(wheel / mass) / (2 * np.pi)),
        damping_ratio=float((bump + rebound) / 2 / _critical(axle)),
        damping_ratio_bump=float(bump / _critical(axle)),
        damping_ratio_rebound=float(rebound / _critical(axle)),
        wheel_hop_hz=float(hop / (2 * np.pi)),
        wheel_rate_n_per_m=wheel,
        friction_n=float(np.mean([damper.friction_n for damper in axle.dampers])),
    )


def _corner(
    axle: TrueAxle, side: int, contacts: tuple[tuple[tuple[float, float, float], ...], ...]
) -> CornerTruth:
    force = damper_force_n(*axle.curves(side), np.array(FORCE_SPEEDS_M_PER_S))
    return CornerTruth(
        damping_ratio=float(np.mean(_wheel_damping(axle, side)) / _critical(axle)),
        force={f"{v:+.3f}": float(f) for v, f in zip(FORCE_SPEEDS_M_PER_S, force, strict=True)},
        bump_stop=contacts[0],
        top_out=contacts[1],
    )


def _whole_car(car: TrueCar) -> WholeCarTruth:
    ride = wheel = damping = 0.0
    for axle in (car.front, car.rear):
        k, t = axle.wheel_rate_n_per_m, axle.tyre_rate_n_per_m
        ride += 2 * k * t / (k + t)
        wheel += 2 * k
        damping += sum(float(np.mean(_wheel_damping(axle, side))) for side in (0, 1))
    mass = car.front.sprung_mass_kg + car.rear.sprung_mass_kg
    return WholeCarTruth(
        bounce_frequency_hz=float(np.sqrt(ride / mass) / (2 * np.pi)),
        bounce_damping_ratio=float(damping / (2 * np.sqrt(wheel * mass))),
    )
