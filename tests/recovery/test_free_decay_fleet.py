"""Simulated bounce tests of random cars: how near the truth, and whether intervals hold it."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.condition.prepare import prepare
from ridelog.estimate.free_decay import bounce_results
from ridelog.recording import AXLES
from tests.bench.fleet_cache import cached_fleet

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def pairs():
    """(found, true) results of every axle of three cars."""
    found = []
    for log in cached_fleet("bounce", seed=301, count=3):
        prepared = prepare(log.recording(), log.car)
        axles, _, _ = bounce_results(prepared.recording, log.car)
        found += [(axles[axle], log.truth.axles[axle]) for axle in AXLES]
    return found


def errors(pairs, name):
    told = [(getattr(f, name), getattr(t, name)) for f, t in pairs if getattr(f, name) is not None]
    assert len(told) >= len(pairs) // 2
    return np.array([estimate.value / truth - 1 for estimate, truth in told])


def test_body_frequency_is_within_a_few_percent(pairs):
    assert np.median(np.abs(errors(pairs, "body_frequency_hz"))) < 0.01


def test_damping_ratio_is_within_its_goal(pairs):
    assert np.median(np.abs(errors(pairs, "damping_ratio"))) < 0.06


def test_intervals_hold_the_truth(pairs):
    inside = [
        estimate.low <= getattr(truth, name) <= estimate.high
        for found, truth in pairs
        for name in ("body_frequency_hz", "damping_ratio", "friction_n")
        if (estimate := getattr(found, name)) is not None
    ]
    assert np.mean(inside) > 0.8
