"""Travel sensors: points straight or curved, zero at ride height, strings and arms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from ridelog.errors import CalibrationError
from ridelog.ingest.calibration_linkage import (
    ArmGeometry,
    StringGeometry,
    curve_points,
    travel_of_arm,
    travel_of_string,
)
from ridelog.ingest.calibration_travel import fit_travel, with_zero_at

VOLTS = np.array([0.5, 1.0, 2.0, 3.0, 4.5])
TRAVEL_M = np.array([-0.0502, -0.0354, -0.0049, 0.0251, 0.0698])


def test_slope_and_interval_agree_with_a_statistics_library():
    fit = fit_travel(tuple(zip(VOLTS, TRAVEL_M, strict=True)))
    line = stats.linregress(VOLTS, TRAVEL_M)
    assert fit.slope is not None
    assert fit.slope.value == pytest.approx(line.slope, rel=1e-9)
    half = stats.t.ppf(0.975, 3) * line.stderr
    assert (fit.slope.high - fit.slope.low) / 2 == pytest.approx(half, rel=1e-9)
    assert not fit.curved
    assert len(fit.calibration) == 2
    ends = [line.intercept + line.slope * volts for volts in (0.5, 4.5)]
    assert [travel for _, travel in fit.calibration] == pytest.approx(ends, rel=1e-9)


def test_a_curved_sensor_keeps_its_points():
    curved = 0.05 * np.sin(np.radians(60) * (VOLTS - 2.5) / 2)
    fit = fit_travel(tuple(zip(VOLTS, curved, strict=True)))
    assert fit.curved
    assert fit.calibration == tuple(zip(VOLTS, curved, strict=True))


def test_linearity_by_both_definitions():
    """By hand: points 0, 60, 100 over 0, 1, 2. Ends: (60 - 50) / 100. Best line: 50 t + 10 / 3."""
    fit = fit_travel([(0, 0.0), (1, 0.060), (2, 0.100)])
    assert fit.linearity_ends == pytest.approx(0.10)
    assert fit.linearity_best == pytest.approx(0.2 / 3)


def test_zero_at_ride_height():
    fit = with_zero_at(fit_travel([(0.5, -0.05), (4.5, 0.05)]), 2.9)
    np.testing.assert_allclose(fit.points, [(0.5, -0.06), (4.5, 0.04)])
    with pytest.raises(CalibrationError, match="lies outside the points"):
        with_zero_at(fit, 4.6)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([(1, 0.1)], "two or more points"),
        ([(1, 0.1), (1, 0.2)], "the same reading"),
        ([(1, 0.1), (2, 0.2), (3, 0.1)], "goes one way"),
    ],
)
def test_points_that_determine_nothing_are_refused(points, words):
    with pytest.raises(CalibrationError, match=words):
        fit_travel(points)


def test_a_slanted_string():
    """The 3-4-5 triangle: 30 across, 40 along; at 5-12-13 scaled, 72 along is 78 of string."""
    string = StringGeometry(along_m=0.040, across_m=0.030)
    assert travel_of_string(string, 0.0) == pytest.approx(0.0, abs=1e-15)
    assert travel_of_string(string, 0.078 - 0.050) == pytest.approx(0.072 - 0.040)
    with pytest.raises(CalibrationError, match="cannot reach"):
        travel_of_string(string, -0.021)


def test_an_arm_with_a_rod_keeps_the_rods_length():
    """Whatever the angle, arm's end and rod's end stay a rod apart, and the rod's end goes up."""
    arm = ArmGeometry(arm_m=0.08, rod_m=0.15, arm_angle_deg=10.0, rod_angle_deg=5.0)
    start = math.radians(10)
    joint = np.array([0.08 * math.cos(start), 0.08 * math.sin(start)])
    lean = math.radians(5)
    end = joint + 0.15 * np.array([math.sin(lean), -math.cos(lean)])
    for turned in (-35.0, -10.0, 20.0, 45.0):
        angle = math.radians(10 + turned)
        moved = np.array([0.08 * math.cos(angle), 0.08 * math.sin(angle)])
        there = end + np.array([0.0, travel_of_arm(arm, turned)])
        assert np.linalg.norm(there - moved) == pytest.approx(0.15, abs=1e-12)
    assert travel_of_arm(arm, 20.0) > 0 > travel_of_arm(arm, -20.0)


def test_a_long_rod_gives_the_sine():
    arm = ArmGeometry(arm_m=0.10, rod_m=1000.0)
    assert travel_of_arm(arm, 30.0) == pytest.approx(0.05, abs=1e-6)


def test_points_along_a_curve_are_dense_enough():
    arm = ArmGeometry(arm_m=0.08, rod_m=0.12)
    points = curve_points(lambda angle: travel_of_arm(arm, angle), -40.0, 40.0)
    fine = np.linspace(-40, 40, 999)
    readings, travels = (np.array(column) for column in zip(*points, strict=True))
    exact = [travel_of_arm(arm, angle) for angle in fine]
    assert np.abs(np.interp(fine, readings, travels) - exact).max() < 6e-5
    with pytest.raises(CalibrationError, match="turns back"):
        curve_points(lambda angle: math.cos(math.radians(angle)), -40.0, 40.0)
    with pytest.raises(CalibrationError, match="cannot reach"):
        travel_of_arm(ArmGeometry(arm_m=0.1, rod_m=0.05), 90.0)
