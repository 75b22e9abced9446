"""Runs of a mask and back, few runs and many."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.condition.stretches import mask_of, runs_of


@pytest.mark.parametrize("share", [0.0, 0.001, 0.5, 0.999, 1.0])
@pytest.mark.parametrize("count", [0, 1, 2, 50_000])
def test_the_runs_of_a_mask_make_the_mask(count, share):
    mask = np.random.default_rng(3).random(count) < share
    starts, ends = runs_of(mask)
    assert np.all(ends > starts)
    assert np.all(starts[1:] > ends[:-1])
    np.testing.assert_array_equal(mask_of(starts, ends, count), mask)


@pytest.mark.parametrize("times", [1, 2000])
def test_runs_may_overlap(times):
    starts = np.repeat([2, 4], times)
    ends = np.repeat([6, 9], times)
    expected = (np.arange(12) >= 2) & (np.arange(12) < 9)
    np.testing.assert_array_equal(mask_of(starts, ends, 12), expected)
