"""Let the log decide what shape a damper has and how sharply its friction turns."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np
import numpy.typing as npt

from ridelog.car.description import Car
from ridelog.condition.stretches import IndexArray
from ridelog.estimate.balance.damper_shapes import DAMPER_SHAPES
from ridelog.estimate.balance.fit import (
    BalanceFit,
    BalanceSettings,
    friction_places,
    solve_nonnegative,
)
from ridelog.estimate.balance.kinematics import body_delay_covariance
from ridelog.estimate.balance.prior import channel_precision, mechanical_prior
from ridelog.recording import FloatArray

# Of the widths at which friction may turn, so many neighbours make up an axle's.
_WIDTHS_TOGETHER = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Reading:
    """A log read one way: the logarithm of its evidence, mean and covariance of all unknowns."""

    log_evidence: float
    mean: FloatArray
    covariance: FloatArray


def weigh_damper_shapes(
    fit: BalanceFit, car: Car, settings: BalanceSettings, *, one_side_may_be_tired: bool
) -> BalanceFit:
    """Read the log with dampers straight, digressive or bled, friction sharp or soft, and weigh.

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
    bent, and its interval too narrow. How sharply friction turns matters as much: a free sum of
    many widths reads it 1 to 2 N high. An axle's friction is therefore made up of neighbouring
    widths alone. The evidence says which, and which shape.

    References
    ----------
    Evidence of a linear Gaussian model: C. M. Bishop, Pattern Recognition and Machine Learning,
    2006, section 3.5.1; cited from memory.
    """
    channels = slice(fit.layout.mechanical_count, fit.layout.count)
    calibrated = fit.sensor_set == "travel+body+hub"
    open_precision = channel_precision(
        car,
        fit.layout,
        settings.prior,
        body_delay_covariance(fit.calibration) if calibrated else None,
    )
    readings = []
    for shapes in product(DAMPER_SHAPES, DAMPER_SHAPES):
        precision, weighted_mean = mechanical_prior(
            car,
            fit.layout,
            settings.prior,
            one_side_may_be_tired=one_side_may_be_tired,
            parameters=fit.parameters,
            shapes=shapes,
        )
        precision[channels, channels] += open_precision
        readings.append(_read(fit, precision, fit.weighted_target + weighted_mean))
    weight = _weights(np.array([reading.log_evidence for reading in readings]))
    mean, covariance = _mixture(
        weight,
        np.array([reading.mean for reading in readings]),
        np.array([reading.covariance for reading in readings]),
    )
    return replace(fit, parameters=mean, covariance=covariance)


def _read(fit: BalanceFit, precision: FloatArray, target: FloatArray) -> _Reading:
    """Read the log with one prior of the curves, over all turning widths.

    What is not friction follows in a straight line from friction, so it is solved for once.
    """
    places = friction_places(fit.layout)
    rest = np.setdiff1d(np.arange(fit.layout.count), places)
    matrix = fit.normal + precision
    inverse = np.linalg.inv(matrix[np.ix_(rest, rest)])
    coupling = inverse @ matrix[np.ix_(rest, places)]
    remaining = matrix[np.ix_(places, places)] - matrix[np.ix_(places, rest)] @ coupling
    pushed = target[places] - target[rest] @ coupling
    choices = _width_choices(len(places) // 4)
    logs, means, covariances = [], [], []
    for chosen in choices:
        part, push = remaining[np.ix_(chosen, chosen)], pushed[chosen]
        forces = solve_nonnegative(part, push, np.arange(len(chosen)))
        logs.append(forces @ push - 0.5 * (forces @ part @ forces + _log_determinant(part)))
        mean, covariance = np.zeros(len(places)), np.zeros((len(places), len(places)))
        mean[chosen] = forces
        covariance[np.ix_(chosen, chosen)] = np.linalg.inv(part)
        means.append(mean)
        covariances.append(covariance)
    weight = _weights(np.array(logs))
    friction, doubt = _mixture(weight, np.array(means), np.array(covariances))
    mean = np.empty(fit.layout.count)
    mean[places] = friction
    mean[rest] = inverse @ target[rest] - coupling @ friction
    covariance = np.empty((fit.layout.count, fit.layout.count))
    covariance[np.ix_(places, places)] = doubt
    covariance[np.ix_(rest, places)] = -coupling @ doubt
    covariance[np.ix_(places, rest)] = covariance[np.ix_(rest, places)].T
    covariance[np.ix_(rest, rest)] = inverse + coupling @ doubt @ coupling.T
    own = precision[np.ix_(rest, rest)]
    log_evidence = max(logs) + np.log(np.mean(np.exp(np.array(logs) - max(logs))))
    log_evidence += 0.5 * (
        _log_determinant(own) + _log_determinant(inverse) + target[rest] @ inverse @ target[rest]
    )
    return _Reading(log_evidence=float(log_evidence), mean=mean, covariance=covariance)


def _width_choices(widths: int) -> list[IndexArray]:
    """Places of the corners' friction among all, for every choice of neighbours by the axles."""
    corner = widths * np.arange(4)
    count = min(_WIDTHS_TOGETHER, widths)
    neighbours = [np.arange(first, first + count) for first in range(widths - count + 1)]
    return [
        np.concatenate([np.add.outer(corner[:2], front), np.add.outer(corner[2:], rear)]).ravel()
        for front, rear in product(neighbours, neighbours)
    ]


def _weights(log_evidence: FloatArray) -> FloatArray:
    weight = np.exp(log_evidence - log_evidence.max())
    return np.asarray(weight / weight.sum())


def _mixture(
    weight: FloatArray, means: FloatArray, covariances: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of a mixture, shapes (p,) and (p, p)."""
    mean = weight @ means
    spread = means - mean
    covariance = np.tensordot(weight, covariances, axes=1)
    return mean, covariance + np.einsum("k,kp,kq->pq", weight, spread, spread)


def _log_determinant(matrix: npt.NDArray[np.floating[Any]]) -> float:
    return float(np.linalg.slogdet(matrix)[1])
