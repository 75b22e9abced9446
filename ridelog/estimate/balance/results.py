"""Put the fit into the contract's results."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.condition.order_statistics import quantile
from ridelog.estimate.balance.doubt import (
    DEFAULT_DOUBT,
    TWO_SIDED_95,
    DoubtSettings,
    absolute_estimate,
    gain_doubts,
    random_deviation,
    relative_estimate,
    tyre_doubt,
)
from ridelog.estimate.balance.fit import BalanceFit
from ridelog.estimate.balance.quantities import (
    LISTED_SPEEDS_M_PER_S,
    axle_quantities,
    corner_forces_n,
)
from ridelog.estimate.balance.roll_stiffness import RollFindings, roll_findings
from ridelog.estimate.balance.tyre_rate import tyre_rate_n_per_m
from ridelog.estimate.curves import ForceCurve
from ridelog.estimate.result import AxleResult, Estimate, ForcePoint
from ridelog.recording import AXLES, CORNERS, FloatArray

# A force point counts as reached when this much of the drive was faster.
_REACHED_SHARE = 0.001
_RATIOS = ("damping_ratio", "damping_ratio_bump", "damping_ratio_rebound", "decay_damping_ratio")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BalanceResults:
    """Axles, corners' damping ratios, force points, curves and rolling of one fit."""

    axles: dict[str, AxleResult]
    corner_damping_ratio: dict[str, Estimate]
    corner_friction_n: dict[str, Estimate]
    damper_force: dict[str, tuple[ForcePoint, ...]]
    curves: tuple[ForceCurve, ...]
    roll: RollFindings


def balance_results(
    fit: BalanceFit, car: Car, doubt: DoubtSettings | None = None
) -> BalanceResults:
    """Results of a fit with their intervals.

    Parameters
    ----------
    fit : BalanceFit
        The fit to report.
    car : Car
        Masses, tyre rates, tolerances.
    doubt : DoubtSettings, optional
        Floors of the intervals.

    References
    ----------
    Definitions of the project's contract.
    """
    doubt = doubt or DEFAULT_DOUBT
    stated = (car.front.tyre_rate_n_per_m, car.rear.tyre_rate_n_per_m)
    car, tyre_deviations = _with_tyre_rates(fit, car)
    axles: dict[str, AxleResult] = {}
    ratios: dict[str, Estimate] = {}
    for number, name in enumerate(AXLES):
        axles[name], sides = _axle_result(fit, car, number, tyre_deviations[number], doubt)
        if stated[number] is None:
            axles[name] = replace(
                axles[name], tyre_rate_n_per_m=_tyre_estimate(car, number, tyre_deviations[number])
            )
        ratios[CORNERS[2 * number]], ratios[CORNERS[2 * number + 1]] = sides
    roll = roll_findings(fit, car, (_tyre_rate(car, 0), _tyre_rate(car, 1)), tyre_deviations)
    for name in AXLES:
        axles[name] = replace(
            axles[name],
            roll_stiffness_n_m_per_deg=roll.total_n_m_per_deg[name],
            bar_rate_n_per_m=roll.bar_rate_n_per_m[name],
        )
    points, curves = {}, []
    speeds = np.concatenate([block.motion.speed_m_per_s() for block in fit.blocks], axis=1)
    for number, corner in enumerate(CORNERS):
        points[corner], curve = _corner_forces(fit, car, number, speeds[number], doubt)
        curves.append(curve)
    return BalanceResults(
        axles=axles,
        corner_damping_ratio=ratios,
        corner_friction_n=_corner_frictions(fit, doubt),
        damper_force=points,
        curves=tuple(curves),
        roll=roll,
    )


def _with_tyre_rates(fit: BalanceFit, car: Car) -> tuple[Car, tuple[float, float]]:
    """Fill in tyre rates the owner does not state; with the relative doubt of both axles'."""
    axles, deviations = [], []
    for number, axle in enumerate((car.front, car.rear)):
        deviation = car.tolerances.tyre_rate
        if axle.tyre_rate_n_per_m is None:
            rate, deviation = tyre_rate_n_per_m(fit, car, number)
            axles.append(replace(axle, tyre_rate_n_per_m=rate))
        else:
            axles.append(axle)
        deviations.append(deviation)
    return replace(car, front=axles[0], rear=axles[1]), (deviations[0], deviations[1])


def _tyre_estimate(car: Car, number: int, deviation: float) -> Estimate:
    rate = _tyre_rate(car, number)
    return relative_estimate(rate, deviation * rate, {})


def _tyre_rate(car: Car, number: int) -> float:
    rate = (car.front, car.rear)[number].tyre_rate_n_per_m
    if rate is None:
        raise ValueError("the tyre rate has not been filled in")
    return rate


def _axle_result(
    fit: BalanceFit, car: Car, number: int, tyre_deviation: float, doubt: DoubtSettings
) -> tuple[AxleResult, tuple[Estimate, Estimate]]:
    axle = (car.front, car.rear)[number]
    ratio = axle.motion_ratio * float(np.exp(fit.calibration.log_motion_ratio[number]))
    names = list(axle_quantities(fit.parameters[None], fit.layout, axle, number, ratio))

    def stacked(parameters: FloatArray) -> FloatArray:
        scaled = parameters.copy()
        scaled[:, : fit.layout.dynamic_index] *= fit.force_scale
        found = axle_quantities(scaled, fit.layout, axle, number, ratio)
        return np.stack([found[name] for name in names], axis=-1)

    value = dict(zip(names, stacked(fit.parameters[None])[0], strict=True))
    deviation = dict(zip(names, random_deviation(fit, stacked, doubt), strict=True))
    estimates = _axle_estimates(fit, car, number, value, deviation, tyre_deviation, doubt)
    sides = (estimates.pop("damping_ratio_left"), estimates.pop("damping_ratio_right"))
    spring_error = _spring_error(estimates.pop("spring_rate_n_per_m"), axle)
    return (
        AxleResult(
            method=f"force balance ({fit.sensor_set})",
            catalogue_spring_error=spring_error,
            **estimates,
        ),
        sides,
    )


def _axle_estimates(
    fit: BalanceFit,
    car: Car,
    number: int,
    value: dict[str, float],
    deviation: dict[str, float],
    tyre_deviation: float,
    doubt: DoubtSettings,
) -> dict[str, Estimate]:
    """Every quantity of an axle with its interval."""
    gains = gain_doubts(fit, car, number)
    model = {"friction and damper model": doubt.damping_floor[fit.sensor_set]}
    frequency = {
        "rigid body, light wheels": doubt.frequency_floor[fit.sensor_set],
        "clock rate": car.tolerances.clock_rate,
        **gains,
    }
    mass = {"sprung mass": car.tolerances.sprung_mass}
    tyre_rate = _tyre_rate(car, number)
    tyre = {"tyre rate": tyre_doubt(value["wheel_rate_n_per_m"], tyre_rate, tyre_deviation)}
    doubled = {name: 2 * part for name, part in frequency.items()}
    # The hop frequency rests on the tyre rate and the unsprung mass the owner states.
    hop = {"tyre rate and unsprung mass": 0.5 * tyre_deviation}
    systematic: dict[str, dict[str, float]] = {
        "spring_rate_n_per_m": {**doubled, **mass},
        "wheel_rate_n_per_m": {**doubled, **mass},
        "body_frequency_hz": {**frequency, **tyre},
        "spring_frequency_hz": frequency,
        "wheel_hop_hz": hop,
        "damping_ratio_left": {**model, **gains},
        "damping_ratio_right": {**model, **gains},
    }
    for name in _RATIOS:
        systematic[name] = {**model, **gains}
    estimates = {
        name: relative_estimate(max(value[name], 1e-4), deviation[name], parts)
        for name, parts in systematic.items()
    }
    friction = max(value["friction_n"], 0.0)
    estimates["friction_n"] = absolute_estimate(
        friction,
        deviation["friction_n"],
        {"friction model": doubt.friction_floor_n + 0.01 * friction},
    )
    return estimates


def _spring_error(spring: Estimate, axle: Axle) -> Estimate:
    """Measured over stated spring rate, minus one."""
    stated = axle.spring_rate_n_per_m
    return Estimate(
        value=spring.value / stated - 1,
        low=spring.low / stated - 1,
        high=spring.high / stated - 1,
    )


def _corner_frictions(fit: BalanceFit, doubt: DoubtSettings) -> dict[str, Estimate]:
    """Dry friction of each corner."""

    def frictions(parameters: FloatArray) -> FloatArray:
        sums = [parameters[:, fit.layout.friction(corner)].sum(axis=1) for corner in range(4)]
        return np.stack(sums, axis=-1) * fit.force_scale

    value = np.maximum(frictions(fit.parameters[None])[0], 0.0)
    deviation = random_deviation(fit, frictions, doubt)
    return {
        corner: absolute_estimate(
            float(value[number]),
            float(deviation[number]),
            {"friction model": doubt.friction_floor_n + 0.01 * float(value[number])},
        )
        for number, corner in enumerate(CORNERS)
    }


def _corner_forces(
    fit: BalanceFit, car: Car, corner: int, speed: FloatArray, doubt: DoubtSettings
) -> tuple[tuple[ForcePoint, ...], ForceCurve]:
    """Listed force points that the drive reached, and the whole curve for the picture."""
    slowest, fastest = quantile(speed, _REACHED_SHARE), quantile(speed, 1 - _REACHED_SHARE)
    listed = np.array([sign * v for sign in (1, -1) for v in LISTED_SPEEDS_M_PER_S])
    shown = np.linspace(slowest, fastest, 61)
    speeds = np.concatenate([listed, shown])

    def forces(parameters: FloatArray) -> FloatArray:
        return corner_forces_n(parameters * fit.force_scale, fit.layout, corner, speeds)

    value = forces(fit.parameters[None])[0]
    deviation = random_deviation(fit, forces, doubt)
    scale = np.abs(forces(fit.parameters[None])[0][3])
    relative = float(np.hypot(car.tolerances.sprung_mass, car.tolerances.accelerometer_gain / 2))
    points = tuple(
        ForcePoint(
            speed_mps=float(listed[index]),
            force_n=absolute_estimate(
                float(value[index]),
                float(deviation[index]),
                {
                    "damper model": doubt.force_floor[fit.sensor_set] * float(scale),
                    "sprung mass and accelerometer gain": relative * abs(float(value[index])),
                },
            ),
        )
        for index in range(len(listed))
        if slowest <= listed[index] <= fastest
    )
    count = len(listed)
    half = TWO_SIDED_95 * np.hypot(deviation[count:], relative * np.abs(value[count:]))
    curve = ForceCurve(
        corner=CORNERS[corner],
        speed_m_per_s=shown,
        force_n=value[count:],
        low_n=value[count:] - half,
        high_n=value[count:] + half,
    )
    return points, curve
