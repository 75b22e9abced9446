"""Which spring brings the measured body frequency to its target, from those one can buy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import erf, exp, hypot, log, pi, sqrt

from ridelog.advise.readings import COVERAGE_FACTOR, log_sd, spring_of
from ridelog.advise.spring_rates import (
    SpringSettings,
    TyreRate,
    body_frequency_hz,
    purchasable_rates,
    tyre_rate_of,
    wheel_rate_for_frequency,
)
from ridelog.car.description import Axle, Car
from ridelog.car.geometry import sprung_mass_per_corner_kg
from ridelog.car.springs import same_rate
from ridelog.estimate.result import AxleResult, Estimate
from ridelog.recording import STANDARD_GRAVITY_M_PER_S2
from ridelog.runs.collect import Run


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringAdvice:
    """A change of springs and what follows from it.

    Rates are catalogue rates per spring. `measured_rate_n_per_m` is the present spring's true rate
    as measured at the wheel through the motion ratio, `ideal_rate_n_per_m` the catalogue rate that
    would hit the target. `perch_up_m` restores the ride height (at the damper, positive up) on
    springs of the same free length, `sink_m` is how far the body sinks without (at the wheel).
    `verdict` is ``change``, ``close`` (the present one is as near as can be told or bought),
    ``no_target``, ``unmeasured`` or ``beyond_tyre`` (no spring reaches it on these tyres).
    """

    verdict: str
    now_n_per_m: float
    next_n_per_m: float | None
    measured_frequency_hz: Estimate | None = None
    predicted_frequency_hz: Estimate | None = None
    measured_rate_n_per_m: float | None = None
    ideal_rate_n_per_m: float | None = None
    perch_up_m: float = 0.0
    sink_m: float = 0.0
    tyre: TyreRate | None = None


def best_on_present_spring(car: Car, runs: Sequence[Run], axle_name: str) -> AxleResult | None:
    """Find the result with the narrowest body frequency among the runs on the springs fitted now.

    Parameters
    ----------
    car : Car
        The car.
    runs : sequence of Run
        Oldest first; the last one is as the car stands now.
    axle_name : str
        ``front`` or ``rear``.
    """
    axle = car.axle(axle_name)
    today = spring_of(runs[-1], axle_name, axle)
    found = [
        (frequency.high - frequency.low, -index, result)
        for index, run in enumerate(runs)
        if same_rate(spring_of(run, axle_name, axle), today)
        and (result := run.analysis.axles.get(axle_name))
        and (frequency := result.body_frequency_hz)
    ]
    return min(found, key=lambda f: f[:2])[2] if found else None


def advise_spring(
    car: Car, runs: Sequence[Run], axle_name: str, settings: SpringSettings | None = None
) -> SpringAdvice:
    """Advise the spring for one axle from the body frequency measured on the present one.

    Parameters
    ----------
    car : Car
        The car with its target body frequency.
    runs : sequence of Run
        Oldest first, at least one.
    axle_name : str
        ``front`` or ``rear``.
    settings : SpringSettings, optional
        Trade habits and tolerances.

    Returns
    -------
    SpringAdvice
        With a verdict; ``change`` only where the target lies outside the measured interval and a
        spring one can buy is expected to be nearer by more than that interval and its own
        tolerance allow for.

    Notes
    -----
    Works with ratios to what was measured, so that a wrong mass, motion ratio or catalogue rate
    cancels to first order. The next spring is taken to stray from its catalogue rate by half of
    what the present one does, and to scatter by the rest of the tolerance.

    References
    ----------
    Derived here from f^2 proportional to K T / (K + T).
    """
    settings = settings or SpringSettings()
    axle = car.axle(axle_name)
    now = spring_of(runs[-1], axle_name, axle)
    result = best_on_present_spring(car, runs, axle_name)
    if result is None or result.body_frequency_hz is None:
        return SpringAdvice(verdict="unmeasured", now_n_per_m=now, next_n_per_m=None)
    tyre = tyre_rate_of(axle, result, car.tolerances.tyre_rate, settings)
    measured = result.body_frequency_hz
    wheel_rate = _wheel_rate(axle, result, tyre)
    target = axle.target_body_frequency_hz
    if wheel_rate is None or target is None:
        verdict = "no_target" if target is None else "unmeasured"
        return SpringAdvice(
            verdict=verdict,
            now_n_per_m=now,
            next_n_per_m=None,
            measured_frequency_hz=measured,
            predicted_frequency_hz=measured if target is None else None,
            tyre=tyre,
        )
    return _towards(axle, now, measured, wheel_rate, target, tyre, settings)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fitted:
    """The present spring as measured: wheel rate, frequency and the log of true over catalogue."""

    axle: Axle
    catalogue_n_per_m: float
    wheel_rate_n_per_m: float
    frequency_hz: float
    frequency_sd: float
    stray: float
    tyre: TyreRate
    settings: SpringSettings


def _towards(
    axle: Axle,
    now: float,
    measured: Estimate,
    wheel_rate: float,
    target: float,
    tyre: TyreRate,
    settings: SpringSettings,
) -> SpringAdvice:
    """Pick among the rates one can buy and judge whether the change is worth it."""
    fitted = _Fitted(
        axle=axle,
        catalogue_n_per_m=now,
        wheel_rate_n_per_m=wheel_rate,
        frequency_hz=measured.value,
        frequency_sd=log_sd(measured),
        stray=log(wheel_rate / (now * axle.motion_ratio**2)),
        tyre=tyre,
        settings=settings,
    )
    common = SpringAdvice(
        verdict="close",
        now_n_per_m=now,
        next_n_per_m=now,
        measured_frequency_hz=measured,
        predicted_frequency_hz=measured,
        measured_rate_n_per_m=wheel_rate / axle.motion_ratio**2,
        tyre=tyre,
    )
    ideal = _ideal_rate(fitted, target)
    if ideal is None:
        return replace(common, verdict="beyond_tyre", next_n_per_m=None)
    common = replace(common, ideal_rate_n_per_m=ideal)
    following = min(
        purchasable_rates(axle, ideal, settings),
        key=lambda rate: abs(log(_predicted(fitted, rate).value / target)),
    )
    if not _worth_it(fitted, measured, following, target):
        return common
    perch_up = _longer_squash_m(fitted, following)
    return replace(
        common,
        verdict="change",
        next_n_per_m=following,
        predicted_frequency_hz=_predicted(fitted, following),
        perch_up_m=perch_up,
        sink_m=perch_up / axle.motion_ratio,
    )


def _wheel_rate(axle: Axle, result: AxleResult, tyre: TyreRate) -> float | None:
    """Measured wheel rate [N/m]; from the body frequency where the log gave none itself."""
    if result.wheel_rate_n_per_m is not None:
        return result.wheel_rate_n_per_m.value
    if result.body_frequency_hz is None:
        return None
    return wheel_rate_for_frequency(
        result.body_frequency_hz.value, sprung_mass_per_corner_kg(axle), tyre.rate_n_per_m
    )


def _true_wheel_rate(fitted: _Fitted, catalogue_n_per_m: float) -> float:
    """Wheel rate to expect of another spring of a catalogue rate [N/m]."""
    if same_rate(catalogue_n_per_m, fitted.catalogue_n_per_m):
        return fitted.wheel_rate_n_per_m
    stray = exp(fitted.settings.shared_share * fitted.stray)
    return catalogue_n_per_m * fitted.axle.motion_ratio**2 * stray


def _ideal_rate(fitted: _Fitted, target_hz: float) -> float | None:
    """Catalogue rate that would hit the target [N/m]; None where the tyre forbids it."""
    tyre = fitted.tyre.rate_n_per_m
    effective_mass = _effective_mass_kg(fitted)
    wanted = wheel_rate_for_frequency(target_hz, effective_mass, tyre)
    if wanted is None:
        return None
    stray = exp(fitted.settings.shared_share * fitted.stray)
    return wanted / fitted.axle.motion_ratio**2 / stray


def _effective_mass_kg(fitted: _Fitted) -> float:
    """Mass that makes the measured wheel rate and frequency agree: ratios stay as measured."""
    tyre, wheel = fitted.tyre.rate_n_per_m, fitted.wheel_rate_n_per_m
    return tyre * wheel / (tyre + wheel) / (2 * pi * fitted.frequency_hz) ** 2


def _predicted(fitted: _Fitted, catalogue_n_per_m: float) -> Estimate:
    """Body frequency with another spring [Hz] and its 95 % interval."""
    tyre, settings = fitted.tyre, fitted.settings
    wheel = _true_wheel_rate(fitted, catalogue_n_per_m)
    value = body_frequency_hz(wheel, _effective_mass_kg(fitted), tyre.rate_n_per_m)
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


def _worth_it(fitted: _Fitted, measured: Estimate, following: float, target: float) -> bool:
    """Whether another spring is expected to come nearer by more than can be told or felt."""
    settings = fitted.settings
    if measured.low <= target <= measured.high:
        return False
    if abs(following / fitted.catalogue_n_per_m - 1) < settings.same_rate:
        return False
    predicted = _predicted(fitted, following)
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


def _longer_squash_m(fitted: _Fitted, following: float) -> float:
    """How much further the static load squashes the next spring [m], at the damper.

    The load on the spring is the corner's weight over the motion ratio (virtual work).
    """
    axle = fitted.axle
    weight = sprung_mass_per_corner_kg(axle) * STANDARD_GRAVITY_M_PER_S2
    load = weight / axle.motion_ratio
    lever = axle.motion_ratio**2
    before = fitted.wheel_rate_n_per_m / lever
    after = _true_wheel_rate(fitted, following) / lever
    return load / after - load / before
