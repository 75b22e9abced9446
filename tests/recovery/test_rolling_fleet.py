"""Rolling on simulated cars: stiffness, bars and gradient inside their intervals."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.accuracy_rolling import findings, rolling_fleet


@pytest.mark.slow
def test_stiffness_share_and_gradient_come_back():
    logs = rolling_fleet(seed=241, cars=3, seconds=45.0)
    rows = [row for log in logs for row in findings(log)]
    held = [row.held for row in rows]
    assert np.mean(held) >= 0.85
    errors = {name: [r.error for r in rows if r.name == name] for name in {r.name for r in rows}}
    assert max(map(abs, errors["suspension"])) < 0.08
    assert max(map(abs, errors["gradient"])) < 0.2
    assert max(map(abs, errors["share"])) < 0.05
