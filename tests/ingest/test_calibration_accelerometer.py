"""Accelerometers calibrated by gravity: known relations, coverage, and what is warned of."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ridelog.errors import CalibrationError
from ridelog.ingest.calibration_accelerometer import POSITIONS, six_positions, two_positions
from ridelog.ingest.rest_reading import RestReading, rest_reading

# A worked example of the twelve-parameter fit, in g: readings m = M a + b.
SENSITIVITY = np.array([[1.02, 0.01, -0.005], [-0.008, 0.985, 0.012], [0.004, -0.006, 1.01]])
ZERO = np.array([0.035, -0.060, 0.110])
READINGS = {
    "+x": (1.055, -0.068, 0.114),
    "+y": (0.045, 0.925, 0.104),
    "+z": (0.03, -0.048, 1.12),
    "-x": (-0.985, -0.052, 0.106),
    "-y": (0.025, -1.045, 0.116),
    "-z": (0.04, -0.072, -0.9),
}


def still(value: float, column: str = "az") -> RestReading:
    return RestReading(file="up.csv", column=column, mean=value, mean_error=0, spread=0, drift=0)


def stills(readings) -> dict[str, list[RestReading]]:
    return {
        place: [still(value, name) for value, name in zip(row, ("ax", "ay", "az"), strict=True)]
        for place, row in readings.items()
    }


@pytest.mark.parametrize(
    ("up", "down", "zero", "per_g"),
    [(1.055, -0.985, 0.035, 1.020), (0.925, -1.045, -0.060, 0.985), (1.120, -0.900, 0.110, 1.010)],
)
def test_two_positions(up, down, zero, per_g):
    """Offset (up + down) / 2, scale (up - down) / 2 g, as published calibration notes have it."""
    fit = two_positions(still(up), still(down))
    assert fit.zero_reading.value == pytest.approx(zero, abs=1e-12)
    assert fit.reading_per_g.value == pytest.approx(per_g, abs=1e-12)
    assert fit.warnings == ()


def test_six_positions_of_the_worked_example():
    fit = six_positions(stills(READINGS))
    expected = [
        [0.980295, 0.008009, -0.003835],
        [-0.009922, 1.015074, 0.006069],
        [0.004971, -0.012021, 0.990008],
    ]
    np.testing.assert_allclose(fit.matrix, expected, atol=1e-6)
    np.testing.assert_allclose(fit.offset_g, [-0.035452, 0.061946, -0.108402], atol=1e-6)
    assert fit.residual_g < 1e-12
    reading = np.array([0.643, -0.0552, 0.9204])
    np.testing.assert_allclose(reading @ fit.matrix + fit.offset_g, [0.6, 0, 0.8], atol=1e-12)
    assert fit.warnings == ()


def tilted(direction: np.ndarray, tilt_deg: float, random: np.random.Generator) -> np.ndarray:
    """Gravity as a sensor sees it that was set down a little askew."""
    askew = np.radians(tilt_deg) * random.standard_normal(3)
    askew -= direction * (askew @ direction)
    angle = np.linalg.norm(askew)
    return direction * math.cos(angle) + askew / angle * math.sin(angle)


def placed(tilt_deg: float, random: np.random.Generator) -> dict[str, np.ndarray]:
    up = {}
    for i, place in enumerate(POSITIONS):
        direction = np.zeros(3)
        direction[i // 2] = 1 - 2 * (i % 2)
        up[place] = SENSITIVITY @ tilted(direction, tilt_deg, random) + ZERO
    return up


def test_intervals_cover_the_truth_when_the_sensor_is_set_down_askew():
    random = np.random.default_rng(8)
    truth = np.linalg.inv(SENSITIVITY).T
    hits, wide = np.zeros((3, 3)), 0.0
    tries = 300
    for _ in range(tries):
        fit = six_positions(stills(placed(1.0, random)))
        hits += np.abs(fit.matrix - truth) <= fit.half_widths[:3]
        wide = max(wide, float(fit.half_widths.max()))
    assert (hits / tries >= 0.95 - 3 * math.sqrt(0.95 * 0.05 / tries)).all()
    assert wide < 0.15  # the interval is not bought with width: 1 deg is 0.017 on a cross term


def test_the_two_position_interval_covers_the_truth_as_well():
    random = np.random.default_rng(9)
    hits = 0
    for _ in range(300):
        seen = placed(1.0, random)
        fit = two_positions(still(seen["+z"][2]), still(seen["-z"][2]))
        hits += fit.reading_per_g.low <= SENSITIVITY[2, 2] <= fit.reading_per_g.high
    assert hits / 300 >= 0.95 - 3 * math.sqrt(0.95 * 0.05 / 300)


def test_a_slanted_position_is_warned_of():
    slanted = dict(READINGS)
    angle = math.radians(8)
    slanted["+z"] = tuple(SENSITIVITY @ [math.sin(angle), 0, math.cos(angle)] + ZERO)
    warnings = six_positions(stills(slanted)).warnings
    assert any("opposite positions disagree by" in warning for warning in warnings)


def test_a_box_that_is_not_square_shows_in_the_angles():
    angle = math.radians(5)
    slanted = dict(READINGS)
    for place, sign in (("+x", 1), ("-x", -1)):
        direction = sign * np.array([math.cos(angle), math.sin(angle), 0])
        slanted[place] = tuple(SENSITIVITY @ direction + ZERO)
    fit = six_positions(stills(slanted))
    assert fit.residual_g < 1e-9
    assert any(warning.startswith("axes x and y come out") for warning in fit.warnings)


def test_exchanged_positions_come_out_left_handed():
    exchanged = READINGS | {"+x": READINGS["-x"], "-x": READINGS["+x"]}
    assert any("left-handed" in warning for warning in six_positions(stills(exchanged)).warnings)


def test_a_moving_and_a_drifting_sensor_are_warned_of():
    random = np.random.default_rng(1)
    shaken = rest_reading("up.csv", "az", 1 + 0.1 * random.standard_normal(500))
    drifting = rest_reading("down.csv", "az", -1 + np.linspace(0, 0.05, 500))
    warnings = two_positions(shaken, drifting).warnings
    assert any(warning.startswith('up.csv: "az" moves by') for warning in warnings)
    assert any(warning.startswith('down.csv: "az" drifts by') for warning in warnings)


def test_what_determines_nothing_is_refused():
    with pytest.raises(CalibrationError, match="reads the same up and down"):
        two_positions(still(1.0), still(1.0))
    with pytest.raises(CalibrationError, match=r"positions -z are missing"):
        six_positions({place: row for place, row in stills(READINGS).items() if place != "-z"})
    with pytest.raises(CalibrationError, match="do not differ enough"):
        six_positions(stills(dict.fromkeys(POSITIONS, (0.0, 0.0, 1.0))))
    with pytest.raises(CalibrationError, match="has 3 readings"):
        rest_reading("up.csv", "az", np.ones(3))
