"""What to expect of another spring, from how the present one was measured."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import erf, exp, hypot, log, pi, sqrt

from ridelog.advise.readings import COVERAGE_FACTOR, log_sd
from ridelog.advise.spring_fit import SpringFit, spring_fit
from ridelog.advise.spring_rates import (
    SpringSettings,
    TyreRate,
    body_frequency_hz,
    wheel_rate_for_frequency,
)
from ridelog.car.description import Axle
from ridelog.car.geometry import sprung_mass_per_corner_kg
from ridelog.car.springs import (
    SpringOnSale,
    law_of,
    rate_at_ride_height_n_per_m,
    same_rate,
    spring_load_n,
)
from ridelog.estimate.result import AxleResult, Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedSpring:
    """The present spring as measured: wheel rate, frequency and the log of true over catalogue.

    `used_travel_m` is the greatest bump travel that any drive showed.
    """

    axle: Axle
    catalogue_n_per_m: float
    wheel_rate_n_per_m: float
    frequency_hz: float
    frequency_sd: float
    stray: float
    tyre: TyreRate
    settings: SpringSettings
    used_travel_m: float = 0.0


def fit_of(fitted: FittedSpring, spring: SpringOnSale | None) -> SpringFit:
    """See how another main spring, or the present one, sits in the damper's travel.

    Parameters
    ----------
    fitted : FittedSpring
        The present spring as measured.
    spring : SpringOnSale or None
        The other one; None for the present one.
    """
    axle, stack = fitted.axle, fitted.axle.spring_stack
    if spring is None:
        law, stray = law_of(axle), fitted.stray
        free = stack.free_length_m if stack else None
        block = stack.block_length_m if stack else None
    else:
        law = law_of(axle, spring.rate_n_per_m)
        stray = log(
            true_wheel_rate(fitted, spring.rate_n_per_m)
            / (rate_at_ride_height_n_per_m(axle, spring.rate_n_per_m) * axle.motion_ratio**2)
        )
        free, block = spring.free_length_m, spring.block_length_m
    return spring_fit(
        axle,
        replace(law, scale=exp(stray)),
        effective_mass_kg(fitted),
        fitted.tyre.rate_n_per_m,
        free_length_m=free,
        block_length_m=block,
        used_travel_m=fitted.used_travel_m,
    )


def measured_wheel_rate(axle: Axle, result: AxleResult, tyre: TyreRate) -> float | None:
    """Measured wheel rate [N/m]; from the body frequency where the log gave none itself.

    Parameters
    ----------
    axle : Axle
        The axle.
    result : AxleResult
        What was measured.
    tyre : TyreRate
        The tyre's rate.
    """
    if result.wheel_rate_n_per_m is not None:
        return result.wheel_rate_n_per_m.value
    if result.body_frequency_hz is None:
        return None
    return wheel_rate_for_frequency(
        result.body_frequency_hz.value, sprung_mass_per_corner_kg(axle), tyre.rate_n_per_m
    )


def true_wheel_rate(fitted: FittedSpring, catalogue_n_per_m: float) -> float:
    """Wheel rate to expect with another main spring of a catalogue rate [N/m].

    Parameters
    ----------
    fitted : FittedSpring
        The present spring as measured.
    catalogue_n_per_m : float
        Rate of the other one [N/m].
    """
    if same_rate(catalogue_n_per_m, fitted.catalogue_n_per_m):
        return fitted.wheel_rate_n_per_m
    stray = exp(fitted.settings.shared_share * fitted.stray)
    stack = rate_at_ride_height_n_per_m(fitted.axle, catalogue_n_per_m)
    return stack * fitted.axle.motion_ratio**2 * stray


def ideal_rate(fitted: FittedSpring, wheel_rate: float) -> float | None:
    """Catalogue rate of the main spring that would give a wheel rate [N/m]; None if none can.

    Parameters
    ----------
    fitted : FittedSpring
        The present spring as measured.
    wheel_rate : float
        Wheel rate wanted [N/m].

    References
    ----------
    Springs in series and side by side, solved for the main one.
    """
    stray = exp(fitted.settings.shared_share * fitted.stray)
    wanted = wheel_rate / fitted.axle.motion_ratio**2 / stray
    stack, load = fitted.axle.spring_stack, spring_load_n(fitted.axle)
    if stack is None:
        return wanted
    if stack.helper is not None and load < stack.helper.rate_n_per_m * stack.helper.travel_m:
        if wanted >= stack.helper.rate_n_per_m:
            return None
        wanted = 1 / (1 / wanted - 1 / stack.helper.rate_n_per_m)
    if stack.inner is not None and load / wanted > stack.inner.gap_m:
        wanted -= stack.inner.rate_n_per_m
    return wanted if wanted > 0 else None


def effective_mass_kg(fitted: FittedSpring) -> float:
    """Mass that makes the measured wheel rate and frequency agree [kg]: ratios stay as measured.

    Parameters
    ----------
    fitted : FittedSpring
        The present spring as measured.
    """
    tyre, wheel = fitted.tyre.rate_n_per_m, fitted.wheel_rate_n_per_m
    return tyre * wheel / (tyre + wheel) / (2 * pi * fitted.frequency_hz) ** 2


def predicted_frequency(fitted: FittedSpring, catalogue_n_per_m: float) -> Estimate:
    """Body frequency with another main spring [Hz] and its 95 % interval.

    Parameters
    ----------
    fitted : FittedSpring
        The present spring as measured.
    catalogue_n_per_m : float
        Rate of the other one [N/m].
    """
    tyre, settings = fitted.tyre, fitted.settings
    wheel = true_wheel_rate(fitted, catalogue_n_per_m)
    value = body_frequency_hz(wheel, effective_mass_kg(fitted), tyre.rate_n_per_m)
    scatter = settings.spring_sd * sqrt(1 - settings.shared_share**2)
    if same_rate(catalogue_n_per_m, fitted.catalogue_n_per_m):
        scatter = 0.0
    by_spring = 0.5 * scatter * tyre.rate_n_per_m / (wheel + tyre.rate_n_per_m)
    softening = wheel / (wheel + tyre.rate_n_per_m) - fitted.wheel_rate_n_per_m / (
        fitted.wheel_rate_n_per_m + tyre.rate_n_per_m
    )
    sd = hypot(fitted.frequency_sd, by_spring, 0.5 * softening * tyre.sd)
    width = exp(COVERAGE_FACTOR * sd)
    return Estimate(value=value, low=value / width, high=value * width)


def worth_it(fitted: FittedSpring, measured: Estimate, following: float, target: float) -> bool:
    """Whether another spring is expected to come nearer by more than can be told or felt.

    Parameters
    ----------
    fitted : FittedSpring
        The present spring as measured.
    measured : Estimate
        Its body frequency [Hz].
    following : float
        Catalogue rate of the other one [N/m].
    target : float
        Body frequency wanted [Hz].
    """
    settings = fitted.settings
    if measured.low <= target <= measured.high:
        return False
    if abs(following / fitted.catalogue_n_per_m - 1) < settings.same_rate:
        return False
    predicted = predicted_frequency(fitted, following)
    miss_now = abs(log(measured.value / target))
    miss_next = _mean_distance(log(predicted.value / target), log_sd(predicted))
    return miss_now - miss_next > max(
        settings.worthwhile_gain, COVERAGE_FACTOR * fitted.frequency_sd
    )


def _mean_distance(mean: float, sd: float) -> float:
    """Mean absolute value of a normal variable (folded normal distribution)."""
    if sd == 0:
        return abs(mean)
    ratio = mean / sd
    return sd * sqrt(2 / pi) * exp(-0.5 * ratio**2) + mean * erf(ratio / sqrt(2))
