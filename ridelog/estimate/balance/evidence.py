"""Let the log decide how curved a damper is at low speed, and carry the doubt."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.fit import (
    BalanceFit,
    BalanceSettings,
    friction_places,
    solve_nonnegative,
)
from ridelog.estimate.balance.prior import channel_precision, mechanical_prior
from ridelog.recording import FloatArray


def weigh_low_speed_shapes(
    fit: BalanceFit, car: Car, settings: BalanceSettings, *, one_side_may_be_tired: bool
) -> BalanceFit:
    """Read the log with dampers straight at low speed and bent there, and weigh the readings.

    Parameters
    ----------
    fit : BalanceFit
        A fit of the log.
    car : Car
        Scales.
    settings : BalanceSettings
        Those of the fit.
    one_side_may_be_tired : bool
        Whether left and right dampers may differ much.

    Returns
    -------
    BalanceFit
        Mean and covariance of the mixture of readings.

    Notes
    -----
    Dry friction and a damper that is soft until its bleed hole fills look much alike in a log: a
    fit free to bend has several times the scatter, one held straight is off where the damper is
    bent, and its interval too narrow. The evidence says which is which.

    References
    ----------
    Evidence of a linear Gaussian model: C. M. Bishop, Pattern Recognition and Machine Learning,
    2006, section 3.5.1; cited from memory.
    """
    channels = slice(fit.layout.mechanical_count, fit.layout.count)
    open_precision = channel_precision(
        car, fit.layout, settings.prior, calibrated=fit.sensor_set == "travel+body+hub"
    )
    logs, means, covariances = [], [], []
    ratios = settings.prior.low_speed_step_ratios
    for steps in product(ratios, ratios):
        precision, weighted_mean = mechanical_prior(
            car,
            fit.layout,
            settings.prior,
            one_side_may_be_tired=one_side_may_be_tired,
            parameters=fit.parameters,
            low_speed_steps=steps,
        )
        precision[channels, channels] += open_precision
        matrix = fit.normal + precision
        target = fit.weighted_target + weighted_mean
        solution = solve_nonnegative(matrix, target, friction_places(fit.layout))
        misfit = solution @ matrix @ solution - 2 * solution @ target
        bent = sum(step != ratios[0] for step in steps)
        odds = settings.prior.bent_log_odds * bent
        logs.append(0.5 * (_log_determinant(precision) - _log_determinant(matrix) - misfit) + odds)
        means.append(solution)
        covariances.append(np.linalg.inv(matrix))
    weight = np.exp(np.array(logs) - max(logs))
    weight /= weight.sum()
    mean = weight @ np.array(means)
    spread = np.array(means) - mean
    covariance = np.tensordot(weight, np.array(covariances), axes=1)
    covariance += np.einsum("k,kp,kq->pq", weight, spread, spread)
    return replace(fit, parameters=mean, covariance=covariance)


def _log_determinant(matrix: FloatArray) -> float:
    return float(np.linalg.slogdet(matrix)[1])
