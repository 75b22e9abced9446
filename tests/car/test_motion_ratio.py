"""Motion ratio from a few jack heights: the ratio, its interval, and the way by levers."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ridelog.car.motion_ratio import fit_motion_ratio, lever_motion_ratio
from ridelog.errors import CalibrationError

HEIGHTS_M = np.array([0.60, 0.62, 0.64, 0.66, 0.68, 0.70])


def test_exact_readings_of_a_straight_linkage():
    fit = fit_motion_ratio(HEIGHTS_M, 0.5 - 0.61 * (HEIGHTS_M - 0.6), 0.65)
    assert fit.ratio.value == pytest.approx(0.61, abs=1e-12)
    assert fit.ratio.low < 0.61 < fit.ratio.high
    assert fit.residual_m == pytest.approx(0, abs=1e-12)
    assert fit.notes == ()


def test_a_rising_rate_is_told_at_ride_height():
    """Damper length over wheel height of a linkage that turns, its slope taken by hand.

    An arm of 0.40 m from pivot to wheel, the damper's eye at 0.25 m, its top 0.40 m above and
    0.20 m outside the pivot; d(length)/d(height) from the exact triangle by a small difference.
    """

    def damper(angle: float) -> float:
        return math.hypot(0.20 - 0.25 * math.cos(angle), 0.40 - 0.25 * math.sin(angle))

    angles = np.radians(np.linspace(-9, 9, 7))
    wheel = 0.40 * np.sin(angles)
    lengths = [damper(angle) for angle in angles]
    step = 1e-6
    truth = (damper(step) - damper(-step)) / (0.40 * (math.sin(step) - math.sin(-step)))
    fit = fit_motion_ratio(wheel, lengths, 0.0)
    assert fit.ratio.value == pytest.approx(abs(truth), rel=2e-3)
    assert fit.change_per_m is not None
    low, high = fit.change_per_m.low, fit.change_per_m.high
    ratios = np.abs(np.gradient(lengths, wheel))
    slope = np.polyfit(wheel, ratios, 1)[0]
    assert low < slope < high


@pytest.mark.parametrize("count", [2, 3, 4, 7])
def test_the_interval_covers_the_truth(count):
    random = np.random.default_rng(17)
    wheel = np.linspace(0.60, 0.70, count)
    hits = 0
    tries = 400
    for _ in range(tries):
        seen = wheel + 0.0005 * random.standard_normal(count)
        damper = 0.4 - 0.7 * wheel + 0.0005 * random.standard_normal(count)
        fit = fit_motion_ratio(seen, damper, 0.65)
        hits += fit.ratio.low <= 0.7 <= fit.ratio.high
    # 95 % less three standard deviations of a count of 400
    assert hits / tries >= 0.95 - 3 * math.sqrt(0.95 * 0.05 / tries)


def test_levers_of_the_handbook():
    """Barton & Fieldhouse p. 179: ks 400, lever 0.80 gives 256; ks 300 gives 192 at the wheel."""
    ratio = lever_motion_ratio(0.32, 0.40)
    assert 400 * ratio**2 == pytest.approx(256)
    assert 300 * ratio**2 == pytest.approx(192)


@pytest.mark.parametrize(("angle", "rate"), [(0, 19.531), (15, 18.223), (30, 14.648)])
def test_a_leaning_spring(angle, rate):
    """50 N/mm at c/b 0.625, leaning: rates found by moving a drawn linkage."""
    ratio = lever_motion_ratio(0.25, 0.40, angle)
    assert 50 * ratio**2 == pytest.approx(rate, abs=0.001)


def test_few_heights_say_what_they_cannot_tell():
    fit = fit_motion_ratio([0.60, 0.65, 0.70], [0.40, 0.365, 0.33])
    assert fit.change_per_m is None
    assert fit.ride_height_m == pytest.approx(0.65)
    assert len(fit.notes) == 2


@pytest.mark.parametrize(
    ("wheel", "damper", "ride", "words"),
    [
        ([0.6], [0.4], None, "two or more pairs"),
        ([0.6, 0.601, 0.602], [0.4, 0.399, 0.398], None, "too close together"),
        ([0.6, 0.6, 0.7], [0.4, 0.4, 0.33], None, "too close together"),
        ([0.6, 0.7], [0.4, 0.33], 0.75, "outside the measured heights"),
        ([0.6, 0.7], [0.4, 0.4], None, "that of no car"),
    ],
)
def test_what_determines_nothing_is_refused(wheel, damper, ride, words):
    with pytest.raises(CalibrationError, match=words):
        fit_motion_ratio(wheel, damper, ride)
