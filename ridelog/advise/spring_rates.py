"""Springs and tyres in series: rates, frequencies, and what one can buy."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.car.description import Axle
from ridelog.car.springs import SpringOnSale
from ridelog.errors import SignalError
from ridelog.estimate.result import AxleResult
from ridelog.estimate.ride_math import natural_frequency, ride_rate, spring_rate_for_frequency

POUND_FORCE_PER_INCH_N_PER_M = 175.126835246476
"""1 lbf/in [N/m], exact to the digits given (NIST SP 811)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringSettings:
    """Trade habits and tolerances; common practice, no source, unless said.

    `spring_sd` is how far true rates stray from catalogues (relative standard deviation), of which
    `shared_share` is taken to be common to the present and the next spring (mounts, bushings,
    motion ratio, the same maker). `worthwhile_gain` is the least gain in frequency (relative) worth
    money. `same_rate` is the step below which two catalogue rates are no real change.
    """

    step_n_per_m: float = 25 * POUND_FORCE_PER_INCH_N_PER_M
    spring_sd: float = 0.04
    shared_share: float = 0.5
    default_tyre_rate_n_per_m: float = 220e3  # passenger-car tyres near 2 bar: 180-260 N/mm
    default_tyre_sd: float = 0.15
    worthwhile_gain: float = 0.015  # nobody feels less, and it is less than springs stray
    same_rate: float = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class TyreRate:
    """A tyre's rate [N/m], its relative standard deviation and where it comes from, in words."""

    rate_n_per_m: float
    sd: float
    source: str


def wheel_rate_for_frequency(
    frequency_hz: float, mass_kg: float, tyre_rate_n_per_m: float
) -> float | None:
    """Wheel rate that gives a body frequency on a tyre.

    Parameters
    ----------
    frequency_hz : float
        Undamped body frequency on the tyre [Hz].
    mass_kg : float
        Sprung mass of one corner [kg].
    tyre_rate_n_per_m : float
        Tyre rate [N/m].

    Returns
    -------
    float or None
        Wheel rate [N/m]; None where the tyre alone is too soft for the frequency.

    References
    ----------
    Milliken & Milliken, Race Car Vehicle Dynamics, 1995, ch. 16: ride rate = spring and tyre in
    series, solved for the wheel rate.
    """
    try:
        return spring_rate_for_frequency(frequency_hz, mass_kg, 1.0, tyre_rate_n_per_m)
    except SignalError:
        return None


def body_frequency_hz(wheel_rate_n_per_m: float, mass_kg: float, tyre_rate_n_per_m: float) -> float:
    """Undamped body frequency on the tyre [Hz]; inverse of `wheel_rate_for_frequency`.

    Parameters
    ----------
    wheel_rate_n_per_m : float
        Wheel rate [N/m].
    mass_kg : float
        Sprung mass of one corner [kg].
    tyre_rate_n_per_m : float
        Tyre rate [N/m].

    References
    ----------
    Milliken & Milliken, Race Car Vehicle Dynamics, 1995, ch. 16.
    """
    return natural_frequency(ride_rate(wheel_rate_n_per_m, tyre_rate_n_per_m), mass_kg)


def springs_to_buy(
    axle: Axle, around_n_per_m: float, settings: SpringSettings | None = None
) -> tuple[SpringOnSale, ...]:
    """Springs one can buy: the owner's list, else the trade's steps about a rate.

    Parameters
    ----------
    axle : Axle
        The axle; `springs_on_sale` and `available_spring_rates_n_per_m` are the owner's lists.
    around_n_per_m : float
        Rate wanted [N/m].
    settings : SpringSettings, optional
        The step: 25 lbf/in.

    Returns
    -------
    tuple of SpringOnSale
        From the steps only those next to the rate wanted.

    References
    ----------
    Steps of 25 lbf/in: common practice, no source.
    """
    listed = tuple(SpringOnSale(rate_n_per_m=r) for r in axle.available_spring_rates_n_per_m)
    if axle.springs_on_sale or listed:
        return (*axle.springs_on_sale, *listed)
    step = (settings or SpringSettings()).step_n_per_m
    below = max(int(around_n_per_m / step), 1)
    return tuple(SpringOnSale(rate_n_per_m=n * step) for n in (below, below + 1))


def tyre_rate_of(
    axle: Axle, result: AxleResult, tyre_sd: float, settings: SpringSettings | None = None
) -> TyreRate:
    """Tyre rate to reckon with: the owner's, else that behind the estimates, else a usual one.

    Parameters
    ----------
    axle : Axle
        The axle.
    result : AxleResult
        What was measured: body and spring frequency together tell the tyre rate behind them.
    tyre_sd : float
        Relative standard deviation of the owner's figure [1].
    settings : SpringSettings, optional
        The usual rate and its spread.

    References
    ----------
    Derived here: R / K = (body frequency / spring frequency)^2 and R = K T / (K + T).
    """
    settings = settings or SpringSettings()
    if axle.tyre_rate_n_per_m is not None:
        return TyreRate(rate_n_per_m=axle.tyre_rate_n_per_m, sd=tyre_sd, source="from the car file")
    body, spring, wheel = (
        result.body_frequency_hz,
        result.spring_frequency_hz,
        result.wheel_rate_n_per_m,
    )
    if body and spring and wheel:
        softening = (body.value / spring.value) ** 2
        if 0.5 < softening < 0.98:
            rate = wheel.value * softening / (1 - softening)
            return TyreRate(rate_n_per_m=rate, sd=settings.default_tyre_sd, source="from the log")
    return TyreRate(
        rate_n_per_m=settings.default_tyre_rate_n_per_m,
        sd=settings.default_tyre_sd,
        source="assumed, as the car file has no tyre_rate",
    )
