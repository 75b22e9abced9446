"""Roll stiffness of each axle as the force balance finds it: no cornering needed, only a road."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.estimate.balance.doubt import (
    DEFAULT_DOUBT,
    TWO_SIDED_95,
    random_deviation,
    relative_estimate,
)
from ridelog.estimate.balance.fit import BalanceFit
from ridelog.estimate.result import Estimate
from ridelog.estimate.roll_stiffness import DEGREE
from ridelog.recording import AXLES, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class RollDoubt:
    """Standard deviations that more driving does not shrink, relative; found on simulated cars.

    `common` is that of both axles together. `split` is how much of both together the roll balance
    may give to the wrong axle, for the axles lean almost alike. A body that twists shares its
    moments out otherwise: `twist`.
    """

    common: float = 0.01
    split: float = 0.01
    twist: float = 0.04


@dataclass(frozen=True, slots=True, kw_only=True)
class RollFindings:
    """By axle: roll stiffness of springs and bar, and with the tyres [N m/deg]; bar [N/m].

    `front_share` is the front axle's share of the whole, tyres included.
    """

    suspension_n_m_per_deg: dict[str, Estimate]
    total_n_m_per_deg: dict[str, Estimate]
    bar_rate_n_per_m: dict[str, Estimate]
    front_share: Estimate


def roll_findings(
    fit: BalanceFit,
    car: Car,
    tyre_rate_n_per_m: tuple[float, float],
    tyre_deviation: tuple[float, float],
    doubt: RollDoubt | None = None,
) -> RollFindings:
    """Roll stiffness of both axles and the front's share, from the roll row of the force balance.

    Parameters
    ----------
    fit : BalanceFit
        The fit.
    car : Car
        Tracks, lever ratios, tolerances.
    tyre_rate_n_per_m : tuple of float
        Tyre rates front and rear [N/m].
    tyre_deviation : tuple of float
        Relative standard deviations of the tyre rates [-].
    doubt : RollDoubt, optional
        Floors.

    Notes
    -----
    Heave tells the springs in newtons, roll then tells what the bars add: the fit has them as
    unknowns. Valid for a stiff body and bars that act on their own axle.

    References
    ----------
    Derived here; series of suspension and tyres as in `ridelog.estimate.roll_stiffness`.
    """
    doubt = doubt or RollDoubt()
    ratios = car_ratios(fit, car)
    twist = doubt.twist if fit.calibration.body_twists else 0.0

    def suspension(parameters: FloatArray) -> FloatArray:
        scaled = fit.force_scale * parameters
        pairs = [_suspension(scaled, fit, car, n, ratios[n]) for n in range(2)]
        return np.stack([stiffness for stiffness, _ in pairs], axis=-1)

    def bars(parameters: FloatArray) -> FloatArray:
        scaled = fit.force_scale * parameters
        pairs = [_suspension(scaled, fit, car, n, ratios[n]) for n in range(2)]
        return np.stack([bar for _, bar in pairs], axis=-1)

    tracks = np.array([car.front.track_m, car.rear.track_m])
    tyres = np.array(tyre_rate_n_per_m) * tracks**2 / 2 * DEGREE

    def whole(parameters: FloatArray) -> FloatArray:
        soft = np.maximum(suspension(parameters), 1.0)
        return np.asarray(soft * tyres / (soft + tyres))

    def share(parameters: FloatArray) -> FloatArray:
        both = whole(parameters)
        return np.asarray(both[..., 0] / both.sum(axis=-1))

    springs_value = suspension(fit.parameters[None])[0]
    give = springs_value / (springs_value + tyres)  # what of the whole's doubt is the tyre's
    split = doubt.split * float(springs_value.sum())
    results: dict[str, dict[str, Estimate]] = {"suspension": {}, "total": {}, "bar": {}}
    for number, name in enumerate(AXLES):
        known = {
            "roll balance": float(np.hypot(doubt.common, split / max(springs_value[number], 1.0))),
            "sprung mass": car.tolerances.sprung_mass,
            "twisting body": twist,
        }
        results["suspension"][name] = _relative(fit, suspension, number, known)
        through = {key: (1 - give[number]) * part for key, part in known.items()}
        through["tyre rate"] = float(give[number] * tyre_deviation[number])
        results["total"][name] = _relative(fit, whole, number, through)
        results["bar"][name] = _bar(fit, bars, number, springs_value[number], known, tracks[number])
    return RollFindings(
        suspension_n_m_per_deg=results["suspension"],
        total_n_m_per_deg=results["total"],
        bar_rate_n_per_m=results["bar"],
        front_share=_share(
            fit, share, give, tyre_deviation, float(np.hypot(doubt.split, twist / 4))
        ),
    )


def car_ratios(fit: BalanceFit, car: Car) -> tuple[float, float]:
    """Motion ratios as the sensors correct them [-].

    Parameters
    ----------
    fit : BalanceFit
        The fit.
    car : Car
        The stated ratios.

    References
    ----------
    See `ridelog.estimate.balance.kinematics`.
    """
    front, rear = np.exp(fit.calibration.log_motion_ratio).tolist()
    return car.front.motion_ratio * front, car.rear.motion_ratio * rear


def _suspension(
    parameters: FloatArray, fit: BalanceFit, car: Car, number: int, ratio: float
) -> tuple[FloatArray, FloatArray]:
    """Roll stiffness of springs and bar [N m/deg], and the bar's rate at the wheel [N/m]."""
    axle: Axle = (car.front, car.rear)[number]
    corners = (2 * number, 2 * number + 1)
    spring = np.mean([parameters[:, fit.layout.spring(c)] for c in corners], axis=0)
    lever = ratio * axle.roll_lever_ratio
    # The fit's bar works on the difference of both dampers and counts once for the axle.
    bar = parameters[:, fit.layout.bar(number)] * lever**2 / 2
    stiffness = axle.track_m**2 * (spring * lever**2 / 2 + bar) * DEGREE
    return stiffness, bar


def _relative(
    fit: BalanceFit,
    quantity: Callable[[FloatArray], FloatArray],
    number: int,
    systematic: dict[str, float],
) -> Estimate:
    value = max(float(quantity(fit.parameters[None])[0, number]), 1.0)
    spread = float(random_deviation(fit, quantity, DEFAULT_DOUBT)[number])
    return relative_estimate(value, spread, systematic)


def _bar(
    fit: BalanceFit,
    quantity: Callable[[FloatArray], FloatArray],
    number: int,
    suspension_n_m_per_deg: float,
    known: dict[str, float],
    track_m: float,
) -> Estimate:
    """Bar rate; its doubt is that of the whole suspension, of which it may be a small part."""
    value = float(quantity(fit.parameters[None])[0, number])
    random = float(random_deviation(fit, quantity, DEFAULT_DOUBT)[number])
    whole = suspension_n_m_per_deg / DEGREE / track_m**2
    sd = float(np.hypot(random, whole * float(np.sqrt(sum(part**2 for part in known.values())))))
    half = TWO_SIDED_95 * sd
    # No bar pushes the wrong way.
    return Estimate(
        value=max(value, 0.0), low=max(value - half, 0.0), high=max(value + half, 0.2 * half)
    )


def _share(
    fit: BalanceFit,
    quantity: Callable[[FloatArray], FloatArray],
    give: FloatArray,
    tyre_deviation: tuple[float, float],
    floor: float,
) -> Estimate:
    """Front share with the doubt of the tyres; errors common to both axles cancel in it."""
    value = float(quantity(fit.parameters[None])[0])
    random = TWO_SIDED_95 * float(random_deviation(fit, quantity, DEFAULT_DOUBT))
    lever = value * (1 - value)
    tyres = lever * float(np.hypot(*(give * np.array(tyre_deviation))))
    systematic = TWO_SIDED_95 * float(np.hypot(tyres, floor))
    half = float(np.hypot(random, systematic))
    return Estimate(
        value=value,
        low=max(value - half, 0.0),
        high=min(value + half, 1.0),
        random_half_width=random,
        systematic_half_width=systematic,
    )
