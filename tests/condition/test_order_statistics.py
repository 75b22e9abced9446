"""Median and quantile by one partition, held against numpy's."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.condition.order_statistics import median, quantile


@pytest.mark.parametrize("count", [1, 2, 3, 10, 1001, 5000])
def test_median_is_that_of_numpy(count):
    values = np.random.default_rng(count).standard_normal((3, count)).round(2)
    np.testing.assert_array_equal(median(values), np.median(values, axis=1))
    np.testing.assert_array_equal(median(values[0]), np.median(values[0]))


@pytest.mark.parametrize("share", [0.0, 0.01, 0.3, 0.99, 1.0])
@pytest.mark.parametrize("count", [1, 2, 101, 4000])
def test_quantile_is_that_of_numpy(count, share):
    values = np.random.default_rng(count).standard_normal(count)
    assert quantile(values, share) == pytest.approx(np.quantile(values, share), rel=1e-12)
