"""Damper curves and knobs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelog.simulate.dampers import DamperCurve, Knob, damper_force_n, knob_factor, side_force_n

FAMILIES = ("linear", "knee", "saturating", "root")
KNOBS = ("log_power", "linear", "inverse", "dead_ends", "saturating")


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("bleed", [0.0, 0.5])
def test_force_rises_with_speed_from_nothing(family, bleed):
    curve = DamperCurve(family=family, slope_n_s_per_m=2000, bleed_ratio=bleed)
    force = side_force_n(curve, np.linspace(0, 3, 3001))
    assert force[0] == 0.0
    assert np.all(np.diff(force) > 0)


@pytest.mark.parametrize("family", FAMILIES[1:])
def test_slopes_below_and_above_the_knee(family):
    curve = DamperCurve(family=family, slope_n_s_per_m=2000, knee_m_per_s=0.1, high_speed_ratio=0.3)
    v = np.array([0.0, 1e-4, 5.0, 5.0001])
    force = side_force_n(curve, v)
    assert (force[1] - force[0]) / 1e-4 == pytest.approx(2000, rel=5e-3)
    above = (force[3] - force[2]) / 1e-4
    # A square root goes on falling slowly: 0.3 + 0.7 / sqrt(1 + 2 x 50).
    expected = 600 if family != "root" else 2000 * (0.3 + 0.7 / np.sqrt(101))
    assert above == pytest.approx(expected, rel=1e-3)


def test_bump_is_positive_and_rebound_negative():
    bump = DamperCurve(family="linear", slope_n_s_per_m=1000)
    rebound = DamperCurve(family="linear", slope_n_s_per_m=2500)
    force = damper_force_n(bump, rebound, np.array([-0.2, 0.0, 0.2]))
    np.testing.assert_allclose(force, [-500.0, 0.0, 200.0])


@given(
    family=st.sampled_from(KNOBS),
    shape=st.floats(0.5, 2.0),
    span=st.floats(1.3, 10.0),
    clicks=st.integers(6, 40),
)
def test_knob_goes_from_soft_to_stiff_without_turning_back(family, shape, span, clicks):
    knob = Knob(clicks=clicks, soft_ratio=0.5, stiff_ratio=0.5 * span, family=family, shape=shape)
    factors = [knob_factor(knob, click) for click in range(clicks + 1)]
    assert factors[0] == pytest.approx(0.5)
    assert factors[-1] == pytest.approx(0.5 * span)
    assert np.all(np.diff(factors) > -1e-12)


def test_knob_halfway():
    # By hand: a log law passes the geometric mean, a linear one the arithmetic, an inverse one the
    # harmonic mean of its ends.
    ends = {"clicks": 10, "soft_ratio": 1.0, "stiff_ratio": 4.0}
    middle = [knob_factor(Knob(family=f, **ends), 5) for f in ("log_power", "linear", "inverse")]
    np.testing.assert_allclose(middle, [2.0, 2.5, 1.6])


@pytest.mark.parametrize("click", [-1, 11])
def test_knob_refuses_clicks_it_does_not_have(click):
    with pytest.raises(ValueError, match=f"click {click} is outside 0 to 10"):
        knob_factor(Knob(clicks=10, soft_ratio=0.5, stiff_ratio=2.0), click)


def test_bleed_hole_takes_its_share_of_the_force_at_low_speed():
    # By hand: at the bleed's own speed 1 / e of a half is still missing, far above it nothing.
    open_hole = {"bleed_ratio": 0.5, "bleed_speed_m_per_s": 0.02}
    curve = DamperCurve(family="linear", slope_n_s_per_m=1000, **open_hole)
    force = side_force_n(curve, np.array([0.02, 1.0]))
    np.testing.assert_allclose(force, [20 * (1 - 0.5 / np.e), 1000.0], rtol=1e-9)
