"""Runs of usable samples."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.estimate.stretches import find_stretches


@pytest.mark.parametrize(
    ("flags", "bridge", "shortest", "expected"),
    [
        ("", 0, 1, []),
        ("....", 0, 1, []),
        ("xxxx", 0, 1, [(0, 4)]),
        (".xx.x.", 0, 1, [(1, 3), (4, 5)]),
        (".xx.x.", 1, 1, [(1, 5)]),
        ("x..x.x", 1, 1, [(0, 1), (3, 6)]),
        (".xx.x.", 0, 2, [(1, 3)]),
        ("x.x", 1, 3, [(0, 3)]),
    ],
)
def test_runs_bridges_and_lengths(flags, bridge, shortest, expected):
    mask = np.array([letter == "x" for letter in flags], dtype=bool)
    found = find_stretches(mask, bridge_count=bridge, shortest_count=shortest)
    assert [(stretch.start, stretch.stop) for stretch in found] == expected
