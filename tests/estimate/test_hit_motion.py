"""Damper motion through hits in which the hub sensor is at its limit."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.estimate.balance.hit_motion import smoothed_motion

RATE_HZ = 500.0
TIME = np.arange(int(6 * RATE_HZ)) / RATE_HZ
LIMIT_M_PER_S2 = 157.0


def hit(seed: int):
    """True travel and speed over a sharp bump, and both sensors' readings."""
    travel = 0.03 * np.exp(-(((TIME - 3.0) / 0.01) ** 2)) + 0.01 * np.sin(8 * TIME)
    speed = np.gradient(travel, 1 / RATE_HZ)
    acceleration = np.gradient(speed, 1 / RATE_HZ)
    rng = np.random.default_rng(seed)
    read = np.round((travel + rng.normal(0, 0.15e-3, len(TIME))) / 0.195e-3) * 0.195e-3
    felt = np.clip(acceleration + rng.normal(0, 0.1, len(TIME)), -LIMIT_M_PER_S2, LIMIT_M_PER_S2)
    return travel, speed, read, felt, np.abs(acceleration) > LIMIT_M_PER_S2


@pytest.mark.parametrize("seed", range(3))
def test_speed_is_told_far_better_than_by_travel_alone(seed):
    _, speed, read, felt, cut = hit(seed)
    _, found = smoothed_motion(read, felt, cut, RATE_HZ)
    quiet = (np.abs(TIME - 3.0) > 0.1) & (TIME > 0.2) & (TIME < 5.8)
    alone = np.gradient(read, 1 / RATE_HZ)
    assert np.std((alone - speed)[quiet]) > 5 * np.std((found - speed)[quiet])


@pytest.mark.parametrize("seed", range(3))
def test_a_sensor_at_its_limit_does_not_spoil_the_motion(seed):
    travel, speed, read, felt, cut = hit(seed)
    assert cut.sum() >= 3
    found, rate = smoothed_motion(read, felt, cut, RATE_HZ)
    after = (TIME > 3.03) & (TIME < 3.5)
    assert np.abs(found - travel)[after].max() < 0.5e-3
    assert np.abs(rate - speed)[after].max() < 0.05
    assert np.abs(found - travel)[np.abs(TIME - 3.0) < 0.03].max() < 0.7e-3
    blind, _ = smoothed_motion(read, felt, np.zeros_like(cut), RATE_HZ)
    assert np.abs(blind - travel).max() > 3 * np.abs(found - travel).max()


def test_readings_that_agree_are_left_alone():
    travel = 0.02 * np.sin(10 * TIME)
    acceleration = np.zeros_like(travel)
    acceleration[1:-1] = np.diff(travel, n=2) * RATE_HZ**2
    found, speed = smoothed_motion(travel, acceleration, TIME > 4.0, RATE_HZ)
    np.testing.assert_allclose(found, travel, atol=1e-9)
    np.testing.assert_allclose(speed[1:-1], 0.2 * np.cos(10 * TIME[1:-1]), atol=1e-4)
