"""Travel and speed used."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.errors import NotEnoughDataError
from ridelog.estimate.travel_use import speed_curve, travel_curve, travel_use

TIME = np.arange(100_000) / 500.0
TRAVEL = 0.030 * np.sin(2 * np.pi * 1.5 * TIME)


def test_a_sine_uses_what_a_sine_uses():
    found = travel_use(TRAVEL)
    assert found.max == pytest.approx(30.0, rel=1e-4)
    assert found.min == pytest.approx(-30.0, rel=1e-4)
    assert found.rms == pytest.approx(30.0 / np.sqrt(2), rel=1e-4)
    # the arcsine law: 1 % of the time a sine is beyond cos(0.01 pi) of its amplitude
    assert found.p99 == pytest.approx(30.0 * np.cos(0.01 * np.pi), rel=1e-3)
    assert found.p01 == pytest.approx(-found.p99, rel=1e-3)


def test_the_rms_is_about_ride_height():
    assert travel_use(np.full(100, 0.004)).rms == pytest.approx(4.0)


def test_missing_samples_do_not_count():
    valid = np.ones(len(TRAVEL), dtype=bool)
    valid[:500] = False
    spoilt = np.where(valid, TRAVEL, 9.0)
    assert travel_use(spoilt, valid).max == pytest.approx(30.0, rel=1e-4)
    with pytest.raises(NotEnoughDataError, match="travel used"):
        travel_use(spoilt, np.zeros_like(valid))


def test_shares_of_travel_add_up_and_lie_where_the_sine_lingers():
    curve = travel_curve("rl", TRAVEL, bump_gap=0.042, valid=None)
    assert curve.share.sum() == pytest.approx(1.0)
    assert curve.bin_edges_mm[0] == -30.0
    assert curve.bump_gap_mm == pytest.approx(42.0)
    assert curve.droop_gap_mm is None
    # time between 0 and 2 mm: asin(2/30) / pi
    at = int(np.searchsorted(curve.bin_edges_mm, 0.0))
    assert curve.share[at] == pytest.approx(np.arcsin(2 / 30) / np.pi, rel=0.02)


def test_shares_of_speed_hold_everything():
    speed = 5.0 * np.cos(2 * np.pi * 1.5 * TIME)
    curve = speed_curve("fl", speed)
    assert curve.share.sum() == pytest.approx(1.0)
    beyond = 2 * np.arccos(2.0 / 5.0) / np.pi
    fastest_bins = curve.share[0] + curve.share[-1]
    assert fastest_bins > beyond  # all that is faster than the last edge counts there
    assert curve.share == pytest.approx(curve.share[::-1], abs=1e-3)
