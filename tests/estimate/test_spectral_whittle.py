"""The Whittle fit against hand-calculated information and against exact data."""

import numpy as np
import pytest

from ridelog.estimate.whittle import Prior, fit_whittle, pack, whittle_cost

BINS = 50
READINGS = 12.0


def levels_and_coherence(theta):
    """Two flat spectra with log levels theta 0 and 1 and a real coherency tanh(theta 2)."""
    first, second = np.exp(theta[:, 0]), np.exp(theta[:, 1])
    cross = np.tanh(theta[:, 2]) * np.sqrt(first * second)
    rows = np.stack([first, second, cross, 0 * cross], axis=1)
    return np.repeat(rows[:, None, :, None], BINS, axis=3)


FLAT = Prior(mean=np.zeros(3), sd=np.full(3, 50.0))


def fitted(data):
    return fit_whittle(
        levels_and_coherence,
        data,
        np.full((1, BINS), READINGS),
        FLAT,
        np.array([0.5, -0.5, 0.1]),
        max_iterations=60,
        tolerance=1e-12,
    )


def test_exact_spectra_give_back_their_parameters():
    truth = np.array([0.3, -1.2, 0.8])
    fit = fitted(levels_and_coherence(truth[None])[0])
    np.testing.assert_allclose(fit.parameters, truth, atol=2e-4)


def test_spread_of_the_level_is_one_over_root_of_readings():
    # Without coherence the logarithm of a mean of N exponential readings has variance 1 / N.
    fit = fitted(levels_and_coherence(np.zeros((1, 3)))[0])
    expected = 1 / np.sqrt(BINS * READINGS)
    np.testing.assert_allclose(np.sqrt(np.diag(fit.covariance))[:2], expected, rtol=1e-3)


def test_stated_spread_is_the_spread_over_many_records():
    rng = np.random.default_rng(9)
    truth = np.array([0.3, -1.2, 0.8])
    matrix = levels_and_coherence(truth[None])[0, 0, :, 0]
    root = np.linalg.cholesky(np.array([[matrix[0], matrix[2]], [matrix[2], matrix[1]]]))
    scores = []
    for _ in range(120):
        white = rng.standard_normal((BINS, 2, int(READINGS), 2)) @ [1, 1j] / np.sqrt(2)
        readings = root @ white
        fit = fitted(pack(readings @ readings.conj().swapaxes(1, 2) / READINGS)[None])
        scores.append((fit.parameters - truth) / np.sqrt(np.diag(fit.covariance)))
    np.testing.assert_allclose(np.std(scores, axis=0), 1.0, atol=0.2)


def test_cost_is_the_log_determinant_plus_trace():
    # Second opinion from numpy.linalg on one complex 2 x 2 pair.
    model = np.array([[2.0, 0.5 - 0.3j], [0.5 + 0.3j, 1.5]])
    data = np.array([[1.0, 0.2 + 0.4j], [0.2 - 0.4j, 3.0]])
    expected = np.linalg.slogdet(model)[1] + np.trace(np.linalg.solve(model, data)).real
    cost = whittle_cost(pack(model[None])[None], pack(data[None])[None], np.ones((1, 1)))
    assert float(cost) == pytest.approx(expected, rel=1e-12)
