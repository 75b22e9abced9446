"""Where a car let go was at the release, for each decay alone, the car itself held."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ridelog.estimate.decay_fit import DecayData, Prior, linearise, predicted_acceleration
from ridelog.estimate.decay_model import STATE_COUNT, places
from ridelog.recording import FloatArray

DAMPING_GUESSES = (1.0, 1.7)  # with friction left out: light and heavy
SETTLING_PASSES = 4  # Gauss-Newton steps


def start_states(
    shared: FloatArray, data: DecayData, prior: Prior, damping_factor: float = 1.0
) -> FloatArray:
    """States at the release by linear least squares, friction left out, shape (10, d).

    A `damping_factor` above 1 stands in for the friction that is left out.
    """
    frictionless = shared.copy()
    frictionless[list(places("friction"))] = np.log(0.1)
    frictionless[list(places("damping"))] += np.log(damping_factor)
    states = np.repeat(np.diag(prior.state_width)[:, :, None], data.decay_count, axis=2)
    all_motion = predicted_acceleration(np.tile(frictionless, (STATE_COUNT, 1)), states, data)
    weight = by_decay(data.weight)
    basis = by_decay(all_motion) * weight[:, None]
    target = by_decay(data.acceleration_m_per_s2) * weight
    normal = basis @ basis.transpose(0, 2, 1) + np.eye(STATE_COUNT)
    found = np.linalg.solve(normal, basis @ target[:, :, None])[:, :, 0]
    return np.asarray(found.T * prior.state_width[:, None])


def by_decay(values: FloatArray) -> FloatArray:
    """Both axles' values in a row for each decay: (2, d, n) to (d, 2 n); (p, 2, d, n) likewise."""
    if values.ndim == 3:
        return values.transpose(1, 0, 2).reshape(values.shape[1], -1)
    return values.transpose(2, 0, 1, 3).reshape(values.shape[2], values.shape[0], -1)


def settled_states(shared: FloatArray, data: DecayData, prior: Prior) -> FloatArray:
    """States (10, d) after a few Gauss-Newton steps for each decay alone, the car held.

    Friction makes more than one valley: every decay sets out from several places and keeps the
    best.
    """
    guesses = [start_states(shared, data, prior, factor) for factor in DAMPING_GUESSES]
    repeats = len(guesses)
    wide = replace(
        data,
        acceleration_m_per_s2=np.tile(data.acceleration_m_per_s2, (1, repeats, 1)),
        weight=np.tile(data.weight, (1, repeats, 1)),
        pushed=np.tile(data.pushed, repeats),
        sway_m_per_s=None
        if data.sway_m_per_s is None
        else np.tile(data.sway_m_per_s, (1, repeats, 1)),
    )
    states, cost = _descended(shared, np.concatenate(guesses, axis=1), wide, prior)
    by_guess = states.reshape(STATE_COUNT, repeats, data.decay_count)
    best = cost.reshape(repeats, data.decay_count).argmin(axis=0)
    return np.asarray(by_guess[:, best, np.arange(data.decay_count)])


def _descended(
    shared: FloatArray, states: FloatArray, data: DecayData, prior: Prior
) -> tuple[FloatArray, FloatArray]:
    """States (10, d) of least cost on the way down, and the cost (d,)."""
    width = prior.state_width[:, None]
    nothing = np.arange(0)
    weight = by_decay(data.weight)
    best, best_cost = states, np.full(data.decay_count, np.inf)
    trial = states
    for _ in range(SETTLING_PASSES):
        at = linearise(shared, trial, data, prior, nothing)
        misfit = by_decay(data.acceleration_m_per_s2 - at.read_m_per_s2) * weight
        cost = (misfit**2).sum(axis=1) + ((trial / width) ** 2).sum(axis=0)
        better = cost < best_cost
        best, best_cost = np.where(better, trial, best), np.where(better, cost, best_cost)
        change = by_decay(at.change) * weight[:, None]
        right = (change @ misfit[:, :, None])[:, :, 0] - (trial / width).T
        left = change @ change.transpose(0, 2, 1) + np.eye(STATE_COUNT)
        step = np.linalg.solve(left, right[:, :, None])[:, :, 0].T * width
        # Where the last step made it worse, go back half of the way instead.
        trial = np.where(better, trial + step, (trial + best) / 2)
    return best, best_cost
