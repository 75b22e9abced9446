"""Intervals: what the log's noise leaves open, and what no amount of driving would settle."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.fit import BalanceFit
from ridelog.estimate.result import Estimate
from ridelog.recording import FloatArray

TWO_SIDED_95 = 1.96

# Relative; the balance holds the body for stiff. Found on simulated bodies that twist.
_TWISTING_BODY_DOUBT = 0.003


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtSettings:
    """Floors of the standard deviations, relative unless said.

    Found on simulated cars whose physics the fit does not hold exactly: shape of the friction,
    sampling, leftover delays.
    """

    frequency_floor: Mapping[str, float]
    damping_floor: Mapping[str, float]
    force_floor: Mapping[str, float]
    friction_floor_n: float = 0.5
    # Of what the weights assume. With it errors are 0.3 of their deviation on linear dampers, 0.6
    # on usual cars, 1.0 on cars with bleed holes (seeds 643 and 644).
    random_inflation: float = 1.3


DEFAULT_DOUBT = DoubtSettings(
    frequency_floor={"travel+body+hub": 0.001, "travel+body": 0.0015, "body+hub": 0.0015},
    damping_floor={"travel+body+hub": 0.0125, "travel+body": 0.02, "body+hub": 0.02},
    force_floor={"travel+body+hub": 0.004, "travel+body": 0.01, "body+hub": 0.02},
)


def random_deviation(
    fit: BalanceFit, quantity: Callable[[FloatArray], FloatArray], settings: DoubtSettings
) -> FloatArray:
    """Standard deviation of a function of the parameters, by first-order propagation.

    Parameters
    ----------
    fit : BalanceFit
        Parameters and covariance.
    quantity : callable
        Maps parameter vectors (batch, parameters) to values (batch, ...).
    settings : DoubtSettings
        Inflation for what the weights assume.

    References
    ----------
    JCGM 100:2008 (GUM), equation 13.
    """
    deviation = np.sqrt(np.diag(fit.covariance))
    # Something must move even where the log leaves no doubt: a width of friction ruled out.
    step = np.where(deviation > 0, 1e-3 * deviation, 1e-6)
    moved = fit.parameters[None] + np.diag(step)
    base = quantity(fit.parameters[None])[0]
    gradient = (quantity(moved) - base) / step.reshape((-1,) + (1,) * np.ndim(base))
    flat = gradient.reshape(gradient.shape[0], -1)
    variance = np.sum(flat * (fit.covariance @ flat), axis=0)
    return np.asarray(settings.random_inflation * np.sqrt(variance).reshape(np.shape(base)))


def gain_doubts(fit: BalanceFit, car: Car, number: int) -> dict[str, float]:
    """Relative doubt of frequency and damping ratio from sensors and motion ratio, by name.

    Parameters
    ----------
    fit : BalanceFit
        The fit, with its calibration.
    car : Car
        Tolerances.
    number : int
        0 for front, 1 for rear.

    Notes
    -----
    Frequency and damping ratio both go with the square root of body acceleration over wheel
    travel, so half of each relative gain error; two sensors of an axle average.
    """
    tolerance = car.tolerances
    if fit.sensor_set == "travel+body":
        return {
            "accelerometer gain": tolerance.accelerometer_gain / np.sqrt(2) / 2,
            "travel sensor gain": tolerance.travel_gain / np.sqrt(2) / 2,
            "motion ratio": tolerance.motion_ratio / 2,
        }
    if fit.sensor_set == "body+hub":
        return {}  # gains are unknowns of the fit itself
    direction = np.zeros(26)
    for corner in (2 * number, 2 * number + 1):
        direction[8 + corner] = 0.25
        direction[corner] = -0.25
    direction[24 + number] = 0.5
    gains = float(np.sqrt(direction @ fit.calibration.covariance @ direction))
    twist = {"twisting body": _TWISTING_BODY_DOUBT} if fit.calibration.body_twists else {}
    return {"sensor gains": gains, **twist}


def tyre_doubt(
    wheel_rate_n_per_m: float, tyre_rate_n_per_m: float, tyre_rate_deviation: float
) -> float:
    """Relative doubt of the body frequency from the tyre rate.

    Parameters
    ----------
    wheel_rate_n_per_m : float
        Wheel rate [N/m].
    tyre_rate_n_per_m : float
        Tyre rate [N/m].
    tyre_rate_deviation : float
        Standard deviation of its logarithm [-].
    """
    share = wheel_rate_n_per_m / (wheel_rate_n_per_m + tyre_rate_n_per_m)
    return 0.5 * share * tyre_rate_deviation


def relative_estimate(
    value: float, random_deviation: float, systematic: Mapping[str, float]
) -> Estimate:
    """Estimate with an interval symmetric on the log scale, straight above a factor of e.

    Parameters
    ----------
    value : float
        Value in its own unit, positive.
    random_deviation : float
        Standard deviation from the log's noise, same unit as `value`.
    systematic : mapping
        Relative standard deviations by the name of what causes them [-].
    """
    random_part = TWO_SIDED_95 * random_deviation / value
    systematic_part = TWO_SIDED_95 * float(np.sqrt(sum(part**2 for part in systematic.values())))
    spread = float(np.hypot(random_part, systematic_part))
    # Where almost nothing is known the log scale runs away.
    rise = float(np.exp(min(spread, 1.0)) + np.e * max(spread - 1.0, 0.0))
    return Estimate(
        value=value,
        low=float(value * np.exp(-spread)),
        high=value * rise,
        random_half_width=float(value * random_part),
        systematic_half_width=float(value * systematic_part),
        largest_contributor=largest_contributor(random_part / TWO_SIDED_95, systematic),
    )


def absolute_estimate(
    value: float, random_deviation: float, systematic: Mapping[str, float]
) -> Estimate:
    """Estimate with an interval that is symmetric on the plain scale.

    Parameters
    ----------
    value : float
        Value in its own unit.
    random_deviation : float
        Standard deviation from the log's noise, same unit.
    systematic : mapping
        Standard deviations by the name of what causes them, same unit.
    """
    random_part = TWO_SIDED_95 * random_deviation
    systematic_part = TWO_SIDED_95 * float(np.sqrt(sum(part**2 for part in systematic.values())))
    spread = float(np.hypot(random_part, systematic_part))
    return Estimate(
        value=value,
        low=value - spread,
        high=value + spread,
        random_half_width=random_part,
        systematic_half_width=systematic_part,
        largest_contributor=largest_contributor(random_deviation, systematic),
    )


def largest_contributor(random_deviation: float, systematic: Mapping[str, float]) -> str:
    """Name what widens an interval most.

    Parameters
    ----------
    random_deviation : float
        Spread from the log's noise, any unit.
    systematic : mapping
        Spreads by name, same unit.
    """
    parts = {"length of the log": random_deviation, **systematic}
    return max(parts, key=lambda name: parts[name])
