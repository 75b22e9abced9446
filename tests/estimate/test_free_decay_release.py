"""What a bounce log tells before any fit: its noise at rest and how fast roll moves the dampers."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.estimate.decay_release import (
    Push,
    ReleaseSettings,
    block_means,
    rest_noise,
    speed_during_pushes,
)

RATE_HZ = 500.0


def test_noise_at_rest_is_not_that_of_the_quietest_moments():
    # White noise of 0.04 m/s2, four samples to a block: 0.02 by the law of the mean. The quietest
    # quarter alone reads 5 % less, and every misfit 10 % more than the model deserves.
    found = []
    for seed in range(8):
        signal = 0.04 * np.random.default_rng(seed).standard_normal((2, 20_000))
        shaken = np.arange(5000, 6500)
        signal[:, shaken] += np.sin(shaken / 60.0)
        blocks = block_means(signal, np.ones(20_000, bool), RATE_HZ, 0.008)
        found.append(rest_noise(blocks, ReleaseSettings()))
    assert np.mean(found) == pytest.approx(0.02, rel=0.015)


def test_speed_is_added_up_from_rest_at_the_end_of_each_push():
    # A decaying swing v = exp(-2 t) sin(12 t), differentiated by hand.
    size = 400
    blocks = block_means(np.zeros((2, 4 * size)), np.ones(4 * size, bool), RATE_HZ, 0.008)
    edges = np.arange(size + 1) * blocks.block_s
    speed = np.exp(-2 * edges) * np.sin(12 * edges)
    acceleration = np.diff(speed) / blocks.block_s
    push = Push(begin=10, safe_start=30, end=380, axle=0)
    found = speed_during_pushes(acceleration, blocks, (push,))
    np.testing.assert_allclose(found[10:381], speed[10:381] - speed[380], atol=1e-12)
    assert not found[:10].any()
    assert not found[381:].any()
