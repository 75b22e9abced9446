"""Which spring brings the measured body frequency to its target, from those one can buy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log

from ridelog.advise.readings import log_sd, spring_of
from ridelog.advise.spring_fit import SpringFit
from ridelog.advise.spring_prediction import (
    FittedSpring,
    effective_mass_kg,
    fit_of,
    ideal_rate,
    measured_wheel_rate,
    predicted_frequency,
    true_wheel_rate,
    worth_it,
)
from ridelog.advise.spring_rates import (
    SpringSettings,
    TyreRate,
    springs_to_buy,
    tyre_rate_of,
    wheel_rate_for_frequency,
)
from ridelog.car.description import Car
from ridelog.car.springs import SpringOnSale, same_rate, with_main_rate
from ridelog.estimate.result import AxleResult, Estimate
from ridelog.recording import CORNERS_OF_AXLE
from ridelog.runs.collect import Run


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringAdvice:
    """A change of springs and what follows from it.

    Rates are catalogue rates per main spring. `measured_rate_n_per_m` is what the present springs
    truly have together, as measured at the wheel through the motion ratio, `stated_rate_n_per_m`
    what they should have, `ideal_rate_n_per_m` the catalogue rate of the main spring that would hit
    the target. `perch_up_m` restores the ride height (at the damper, positive up), `sink_m` is how
    far the body sinks without (at the wheel); both count springs as equally long where their free
    lengths are not known. `refused` is a spring whose rate comes nearer but which does not fit, and
    how it would sit. `verdict` is ``change``, ``close`` (the present one is as near as can be told
    or bought),
    ``no_target``, ``unmeasured``, ``beyond_tyre`` (no spring reaches it on these tyres) or
    ``beyond_helper`` (none does on a helper that is open at ride height).
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
    stated_rate_n_per_m: float | None = None
    next_spring: SpringOnSale | None = None
    fit_now: SpringFit | None = None
    fit_next: SpringFit | None = None
    refused: tuple[SpringOnSale, SpringFit] | None = None
    stack_ratio: float | None = None

    @property
    def rate_ratio(self) -> float | None:
        """Rate at ride height, next over now; of the whole stack where there is one."""
        if self.next_n_per_m is None:
            return None
        return self.stack_ratio or self.next_n_per_m / self.now_n_per_m


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
    wheel_rate = measured_wheel_rate(axle, result, tyre)
    if wheel_rate is None:
        return SpringAdvice(
            verdict="unmeasured",
            now_n_per_m=now,
            next_n_per_m=None,
            measured_frequency_hz=measured,
            tyre=tyre,
        )
    today = with_main_rate(axle, now)
    fitted = FittedSpring(
        axle=today,
        catalogue_n_per_m=now,
        wheel_rate_n_per_m=wheel_rate,
        frequency_hz=measured.value,
        frequency_sd=log_sd(measured),
        stray=log(wheel_rate / (today.spring_rate_n_per_m * axle.motion_ratio**2)),
        tyre=tyre,
        settings=settings,
        used_travel_m=_used_travel_m(runs, axle_name),
    )
    common = SpringAdvice(
        verdict="no_target",
        now_n_per_m=now,
        next_n_per_m=None,
        measured_frequency_hz=measured,
        predicted_frequency_hz=measured,
        measured_rate_n_per_m=wheel_rate / axle.motion_ratio**2,
        stated_rate_n_per_m=today.spring_rate_n_per_m,
        tyre=tyre,
        fit_now=fit_of(fitted, None),
    )
    if axle.target_body_frequency_hz is None:
        return common
    return _towards(fitted, common, measured, axle.target_body_frequency_hz)


def _used_travel_m(runs: Sequence[Run], axle_name: str) -> float:
    """Greatest travel in bump that any drive showed [m], at the damper; 0 where none did."""
    shown = (run.analysis.corners.get(c) for run in runs for c in CORNERS_OF_AXLE[axle_name])
    return max((c.travel_mm.max / 1000 for c in shown if c and c.travel_mm), default=0.0)


def _towards(
    fitted: FittedSpring, common: SpringAdvice, measured: Estimate, target: float
) -> SpringAdvice:
    """Pick among the springs one can buy and judge whether the change is worth it."""
    axle, now, tyre = fitted.axle, fitted.catalogue_n_per_m, fitted.tyre
    wanted = wheel_rate_for_frequency(target, effective_mass_kg(fitted), tyre.rate_n_per_m)
    if wanted is None:
        return replace(common, verdict="beyond_tyre")
    ideal = ideal_rate(fitted, wanted)
    if ideal is None:
        return replace(common, verdict="beyond_helper")
    common = replace(common, verdict="close", next_n_per_m=now, ideal_rate_n_per_m=ideal)
    following, refused = _choose(fitted, springs_to_buy(axle, ideal, fitted.settings), target)
    if following is None or not worth_it(fitted, measured, following.rate_n_per_m, target):
        return replace(common, refused=refused)
    fit = fit_of(fitted, following)
    perch_up = fit.squash_m - common.fit_now.squash_m if common.fit_now else 0.0
    free = (following.free_length_m, axle.spring_stack and axle.spring_stack.free_length_m)
    if free[0] and free[1]:
        perch_up -= free[0] - free[1]
    return replace(
        common,
        verdict="change",
        next_n_per_m=following.rate_n_per_m,
        predicted_frequency_hz=predicted_frequency(fitted, following.rate_n_per_m),
        perch_up_m=perch_up,
        sink_m=perch_up / axle.motion_ratio,
        next_spring=following,
        fit_next=fit,
        refused=refused,
        stack_ratio=true_wheel_rate(fitted, following.rate_n_per_m) / fitted.wheel_rate_n_per_m,
    )


def _choose(
    fitted: FittedSpring, on_sale: Sequence[SpringOnSale], target: float
) -> tuple[SpringOnSale | None, tuple[SpringOnSale, SpringFit] | None]:
    """Pick the spring nearest to the target that fits, the cheapest of equals; and one refused."""

    def miss(spring: SpringOnSale) -> float:
        return abs(log(predicted_frequency(fitted, spring.rate_n_per_m).value / target))

    fits = {spring: fit_of(fitted, spring) for spring in dict.fromkeys(on_sale)}
    good = [spring for spring, fit in fits.items() if not (fit.binds or fit.loose)]
    best = min(good, key=miss, default=None)
    nearest = min(fits, key=miss)
    refused = None
    if nearest not in good and (best is None or miss(nearest) < miss(best) - _EQUAL):
        refused = (nearest, fits[nearest])
    if best is None:
        return None, refused
    equals = [spring for spring in good if miss(spring) <= miss(best) + _EQUAL]
    return min(equals, key=lambda s: (s.price is None, s.price or 0.0, miss(s))), refused


_EQUAL = 0.003
"""Frequencies nearer than this (relative) are the same: far below what springs stray."""
