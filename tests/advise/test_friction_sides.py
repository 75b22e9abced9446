"""Friction on one side points to bushings, before any knob (common practice, no source)."""

from __future__ import annotations

import pytest

from ridelog.advise.next_step import advise
from ridelog.advise.tired_dampers import one_sided_friction_reason
from ridelog.estimate.result import CornerResult, Estimate
from tests.advise import builders


def corner(value, half):
    return CornerResult(friction_n=Estimate(value=value, low=value - half, high=value + half))


@pytest.mark.parametrize(
    ("left", "right", "words"),
    [
        (corner(60, 8), corner(25, 8), "60 N in the left front damper"),
        (corner(25, 8), corner(60, 8), "60 N in the right front damper"),
        (corner(60, 30), corner(25, 30), None),  # intervals overlap
        (corner(80, 5), corner(60, 5), None),  # less than half as much again
        (corner(12, 1), corner(4, 1), None),  # too little to matter
        (corner(60, 8), None, None),
    ],
)
def test_only_a_clear_difference_is_told(left, right, words):
    reason = one_sided_friction_reason("front", left, right)
    if words is None:
        assert reason is None
    else:
        assert words in reason
        assert "polyurethane" in reason


def test_friction_comes_before_the_knobs():
    high = builders.axle_result(0.2, friction_n=builders.estimate(400.0, 0.05))
    corners = {"fl": corner(450, 20), "fr": corner(250, 20)}
    run = builders.run("first.csv", 6, high, corners=corners)
    reasons = advise(builders.car(), [run]).axles["front"].reasons
    assert reasons[0].startswith("Friction is high")
    assert reasons[1].startswith("Friction is one-sided")
    assert "before any knob" in reasons[1]
