"""Roll stiffness of an axle through springs, bar and tyres, and the front axle's share of it."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, pi

from ridelog.car.description import Axle, Car
from ridelog.car.geometry import wheel_rate_n_per_m
from ridelog.estimate.result import Estimate

DEGREE = pi / 180


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedDoubt:
    """How far catalogue figures stray: relative standard deviations; common practice, no source."""

    spring: float = 0.04
    bar: float = 0.1
    usual_tyre_rate_n_per_m: float = 220e3
    usual_tyre: float = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleRoll:
    """Roll stiffness of one axle [N m/rad]: springs, bar, tyres, and all of them together."""

    springs_n_m_per_rad: float
    bar_n_m_per_rad: float
    tyres_n_m_per_rad: float

    @property
    def suspension_n_m_per_rad(self) -> float:
        """Springs and bar, body against wheels."""
        return self.springs_n_m_per_rad + self.bar_n_m_per_rad

    @property
    def total_n_m_per_rad(self) -> float:
        """Suspension on tyres, body against road."""
        soft, hard = self.suspension_n_m_per_rad, self.tyres_n_m_per_rad
        return soft * hard / (soft + hard)


def axle_roll(
    axle: Axle, wheel_rate_n_per_m: float, bar_rate_n_per_m: float, tyre_rate_n_per_m: float
) -> AxleRoll:
    """Roll stiffness of an axle.

    Parameters
    ----------
    axle : Axle
        Track, and the damper spacing of a solid axle (the springs are taken to stand there).
    wheel_rate_n_per_m : float
        Wheel rate per corner, both wheels together [N/m].
    bar_rate_n_per_m : float
        Anti-roll bar: force at one wheel per travel of that wheel, the other held [N/m].
    tyre_rate_n_per_m : float
        Tyre rate per corner [N/m].

    Returns
    -------
    AxleRoll

    Notes
    -----
    Two springs of rate K at the wheels, a track t apart, give K t^2 / 2; on a solid axle their own
    spacing counts. Leaning by an angle moves the wheels against each other by t times that angle,
    so the bar gives t^2 times its rate. Small angles; the links' own stiffness is left out.

    References
    ----------
    W. F. Milliken and D. L. Milliken, Race Car Vehicle Dynamics (1995), ch. 16, and
    T. D. Gillespie, Fundamentals of Vehicle Dynamics (1992), ch. 6; both from memory.
    """
    track = axle.track_m
    return AxleRoll(
        springs_n_m_per_rad=wheel_rate_n_per_m * (axle.roll_lever_ratio * track) ** 2 / 2,
        bar_n_m_per_rad=bar_rate_n_per_m * track**2,
        tyres_n_m_per_rad=tyre_rate_n_per_m * track**2 / 2,
    )


def front_share(front: AxleRoll, rear: AxleRoll) -> float:
    """Share of the front axle in the roll stiffness of a stiff body.

    Parameters
    ----------
    front, rear : AxleRoll
        Both axles.

    References
    ----------
    As `axle_roll`: the axles act side by side on one body.
    """
    return front.total_n_m_per_rad / (front.total_n_m_per_rad + rear.total_n_m_per_rad)


def stated_front_share(car: Car, doubt: StatedDoubt | None = None) -> Estimate | None:
    """Front axle's share of the roll stiffness by the car file's figures; None without a bar rate.

    Parameters
    ----------
    car : Car
        Springs, bars, tyres and tracks; an axle without a bar rate has no bar where the other
        states one.
    doubt : StatedDoubt, optional
        How far the figures stray.

    References
    ----------
    As `axle_roll`; spread to first order, JCGM 100:2008 (GUM), 5.1.
    """
    doubt = doubt or StatedDoubt()
    axles = (car.front, car.rear)
    if all(axle.bar_rate_n_per_m is None for axle in axles):
        return None
    rolls, spreads = [], []
    for axle in axles:
        tyre = axle.tyre_rate_n_per_m
        rate = tyre or doubt.usual_tyre_rate_n_per_m
        roll = axle_roll(axle, wheel_rate_n_per_m(axle), axle.bar_rate_n_per_m or 0.0, rate)
        give = roll.suspension_n_m_per_rad / (roll.suspension_n_m_per_rad + roll.tyres_n_m_per_rad)
        bar = roll.bar_n_m_per_rad / roll.suspension_n_m_per_rad
        tyre_sd = doubt.usual_tyre if tyre is None else car.tolerances.tyre_rate
        lever = 2 * car.tolerances.motion_ratio
        springs = hypot((1 - bar) * hypot(doubt.spring, lever), bar * doubt.bar)
        rolls.append(roll)
        spreads.append(hypot((1 - give) * springs, give * tyre_sd))
    share = front_share(*rolls)
    half = 1.96 * share * (1 - share) * hypot(*spreads)
    return Estimate(value=share, low=max(share - half, 0.0), high=min(share + half, 1.0))
