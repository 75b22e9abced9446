"""Bench curves of made-up dampers with a known law."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.estimate.bench_curve import bench_curve, force_at_speed


def bench(friction_n: float = 40.0, lag_s: float = 0.0, noise_n: float = 3.0):
    time = np.arange(20_000) / 1000.0
    velocity = 0.25 * np.cos(2 * np.pi * 1.6 * time)
    acting = 0.25 * np.cos(2 * np.pi * 1.6 * (time - lag_s))
    slope = np.where(acting > 0, 1500.0, 3500.0)
    force = slope * acting + friction_n * np.sign(acting)
    return velocity, force + np.random.default_rng(2).normal(scale=noise_n, size=len(time))


def test_curve_and_friction_of_a_two_sided_law():
    curve = bench_curve(*bench())
    assert force_at_speed(curve, 0.2) == pytest.approx(1500 * 0.2 + 40, rel=0.01)
    assert force_at_speed(curve, -0.2) == pytest.approx(-3500 * 0.2 - 40, rel=0.01)
    assert curve.friction_n == pytest.approx(40.0, abs=3.0)
    assert curve.hysteresis_n < 3.0


def test_a_lagging_force_shows_as_hysteresis_and_leaves_the_curve():
    lagging = bench_curve(*bench(lag_s=0.004))
    # middle of the loop: the law itself away from the sign's turn
    assert force_at_speed(lagging, 0.15) == pytest.approx(1500 * 0.15 + 40, rel=0.02)
    # half loop width = slope x speed change in the lag; mean of the two sides' slopes, mean |a|
    assert lagging.hysteresis_n > 15.0


def test_beyond_the_bench_there_is_no_force():
    with pytest.raises(SignalError, match=r"0\.4 m/s lies outside the -0\.2"):
        force_at_speed(bench_curve(*bench()), 0.4)


def test_force_and_speed_of_opposite_sign_are_refused():
    velocity, force = bench()
    with pytest.raises(SignalError, match="point opposite ways; turn the sign"):
        bench_curve(velocity, -force)


def test_a_handful_of_points_is_no_curve():
    with pytest.raises(NotEnoughDataError, match="needs 205 samples, the log has 50 samples"):
        bench_curve(np.linspace(-1, 1, 50), np.linspace(-1, 1, 50))
