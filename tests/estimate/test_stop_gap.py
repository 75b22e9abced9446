"""Where a stop begins, from left-over forces with a known knee."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.errors import SignalError
from ridelog.estimate.stop_gap import estimate_gap

RATE_HZ = 500.0


def drive(gap: float, *, seed: int, stiffness: float = 60e3, cubic: float = 1e8):
    """Travel of a rough drive [m] and the force beyond spring and damper [N], coloured noise."""
    rng = np.random.default_rng(seed)
    count = int(60 * RATE_HZ)
    smooth = np.hanning(41) / np.hanning(41).sum()
    travel = 0.055 * np.convolve(rng.normal(size=count), smooth, mode="same")
    depth = np.maximum(travel - gap, 0.0)
    noise = 150.0 * np.convolve(rng.normal(size=count), np.ones(5) / np.sqrt(5), mode="same")
    slope = 1500.0 * travel  # a spring rate slightly wrong
    return travel, stiffness * depth + cubic * depth**3 + slope + noise


@pytest.mark.parametrize("gap", [0.022, 0.027])
@pytest.mark.parametrize(("stiffness", "cubic"), [(60e3, 1e8), (200e3, 0.0)])
def test_the_knee_is_found(gap, stiffness, cubic):
    travel, force = drive(gap, seed=4, stiffness=stiffness, cubic=cubic)
    found = estimate_gap(travel, force, RATE_HZ, stop="bump")
    assert found.value == pytest.approx(gap * 1e3, abs=3.0)
    assert found.low < gap * 1e3 < found.high
    assert found.high - found.low < 24.0


def test_the_interval_holds_the_truth_on_nearly_all_drives():
    inside, errors = 0, []
    for seed in range(20):
        travel, force = drive(0.024, seed=seed, stiffness=150e3)
        found = estimate_gap(travel, force, RATE_HZ, stop="bump")
        inside += found.low < 24.0 < found.high
        errors.append(found.value - 24.0)
    assert inside >= 19
    assert np.median(np.abs(errors)) < 2.0


def test_droop_is_the_same_the_other_way_round():
    travel, force = drive(0.024, seed=4)
    bump = estimate_gap(travel, force, RATE_HZ, stop="bump")
    droop = estimate_gap(-travel, -force, RATE_HZ, stop="droop")
    assert droop == bump


@pytest.mark.parametrize("seed", range(8))
def test_no_knee_is_found_where_there_is_no_stop(seed):
    travel, force = drive(1.0, seed=seed)
    with pytest.raises(SignalError, match=r"no knee in the force up to .* measure the gap"):
        estimate_gap(travel, force, RATE_HZ, stop="bump")


def test_a_damper_that_hardly_moves_tells_nothing():
    travel = np.linspace(-1e-3, 1e-3, 1000)
    with pytest.raises(SignalError, match="too little travel"):
        estimate_gap(travel, np.ones(1000), RATE_HZ, stop="bump")


def test_flagged_samples_are_left_out():
    travel, force = drive(0.024, seed=4)
    spoilt, valid = force.copy(), np.ones(len(force), dtype=bool)
    valid[5000:9000] = False
    spoilt[5000:9000] = 9e4
    whole = estimate_gap(travel, force, RATE_HZ, stop="bump")
    found = estimate_gap(travel, spoilt, RATE_HZ, stop="bump", valid=valid)
    assert found.value == pytest.approx(whole.value, abs=3.0)
