"""Force curves of the balance against numerical integration of the same curves written anew."""

from __future__ import annotations

from math import pi, sqrt, tanh

import numpy as np
import pytest
from scipy.integrate import quad, trapezoid
from scipy.special import erf
from scipy.stats import norm

from ridelog.estimate.balance.basis import (
    BasisSettings,
    curve_force_n,
    force_columns,
    piece_values,
)

NODES = (0.0, 0.05, 0.2)
SETTINGS = BasisSettings(node_speeds_m_per_s=NODES, friction_widths_m_per_s=(0.002, 0.01))
# speeds that rest, cross nodes, reverse within one interval, and go beyond the last node
SPEEDS = np.array([0.0, 0.03, 0.04, 0.12, 0.31, 0.02, -0.004, 0.003, -0.26, -0.06, 0.06, 0.06001])


def piece(number, speed):
    """One piece of the curve: rises by 1 per m/s between its node and the next."""
    low = NODES[number]
    high = NODES[number + 1] if number + 1 < len(NODES) else np.inf
    return min(max(speed - low, 0.0), high - low)


def mean_over(curve, start, end):
    """Mean along a straight line of speeds, cut at every kink."""
    kinks = [(s * n - start) / (end - start) for n in NODES for s in (1, -1) if end != start]
    inside = sorted({k for k in kinks if 0 < k < 1})
    value, _ = quad(lambda t: curve(start + t * (end - start)), 0, 1, points=inside or None)
    return value


@pytest.mark.parametrize("number", range(3))
@pytest.mark.parametrize("sign", [1, -1])
def test_pieces_are_the_mean_over_each_interval(number, sign):
    columns = force_columns(SPEEDS, SETTINGS)
    row = columns[number if sign > 0 else 3 + number]
    for k in range(len(SPEEDS) - 1):
        expected = mean_over(lambda v: sign * piece(number, sign * v), SPEEDS[k], SPEEDS[k + 1])
        assert row[k] == pytest.approx(expected, abs=2e-9), k


@pytest.mark.parametrize(("index", "width"), [(0, 0.002), (1, 0.01)])
def test_friction_is_the_mean_smoothed_sign(index, width):
    row = force_columns(SPEEDS, SETTINGS)[6 + index]
    for k in range(len(SPEEDS) - 1):
        expected = mean_over(lambda v: erf(v / width / sqrt(2)), SPEEDS[k], SPEEDS[k + 1])
        assert row[k] == pytest.approx(expected, abs=1e-7), k


def test_speed_noise_blurs_kinks_and_signs_by_its_own_spread():
    noise = 0.006
    columns = force_columns(SPEEDS, SETTINGS, speed_noise_m_per_s=noise)
    error = np.linspace(-8 * noise, 8 * noise, 4001)
    density = norm.pdf(error, scale=noise)
    along, share = np.polynomial.legendre.leggauss(40)
    for k in (1, 2, 5, 6, 9):
        start, end = SPEEDS[k], SPEEDS[k + 1]
        seen = (start + (along + 1) / 2 * (end - start))[:, None] + error
        for row, curve in (
            (columns[0], np.clip(seen, 0, 0.05)),
            (columns[6], erf(seen / 0.002 / sqrt(2))),
        ):
            mean = share / 2 @ trapezoid(curve * density, error, axis=1)
            assert row[k] == pytest.approx(mean, abs=2e-6)


def test_a_bent_curve_is_the_sum_of_its_pieces_and_odd_sides_stay_apart():
    slopes = np.array([1200.0, 600.0, 300.0, 3000.0, 1500.0, 900.0])
    speed = np.array([0.02, 0.1, 0.5, -0.02, -0.1, -0.5])
    by_hand = [24.0, 60 + 30, 60 + 90 + 90, -60.0, -(150 + 75), -(150 + 225 + 270)]
    np.testing.assert_allclose(curve_force_n(speed, slopes, SETTINGS), by_hand, rtol=1e-12)
    assert piece_values(np.array(0.1), SETTINGS)[:3].tolist() == pytest.approx([0.05, 0.05, 0.0])


def test_mixed_widths_follow_a_friction_that_is_neither_of_them():
    # Dry friction of another shape, tanh(v / w), is met within a few percent of its force.
    widths = BasisSettings().friction_widths_m_per_s
    speed = np.linspace(-0.05, 0.05, 2001)
    mixed = np.stack([erf(speed / w / sqrt(2)) for w in widths], axis=1)
    step = float(speed[1] - speed[0])
    ours = force_columns(speed, BasisSettings())[-len(widths) :].T
    np.testing.assert_allclose(ours[:-1], 0.5 * (mixed[:-1] + mixed[1:]), atol=0.02 * step / 5e-5)
    for width, first in ((0.002, 0), (0.004, 1), (0.006, 2), (0.008, 2)):
        true = np.array([tanh(v / width) for v in speed])
        three = mixed[:, first : first + 3]  # neighbours, as the balance takes them
        shares, *_ = np.linalg.lstsq(three, true, rcond=None)
        assert np.abs(three @ shares - true).max() < 0.03
        assert shares.sum() == pytest.approx(1.0, abs=0.02)


def test_ramp_at_rest_under_noise_is_half_the_mean_of_a_folded_normal():
    # E max(e, 0) = s / sqrt(2 pi) for a normal error of spread s.
    noise = 0.01
    still = np.array([1e-7, 2e-7, 3e-7])
    settings = BasisSettings(node_speeds_m_per_s=(0.0, 10.0), friction_widths_m_per_s=(0.002,))
    value = force_columns(still, settings, speed_noise_m_per_s=noise)[0][0]
    assert value == pytest.approx(noise / sqrt(2 * pi), rel=1e-3)
