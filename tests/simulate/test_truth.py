"""True values against the contract's definitions, worked by hand or by another road."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.simulate.dampers import DamperCurve, Knob
from ridelog.simulate.true_car import StatedErrors, Stops, TrueAxle, TrueCar, TrueDamper, stated_car
from ridelog.simulate.truth import contacts_past, truth_of


@pytest.fixture
def car() -> TrueCar:
    damper = TrueDamper(
        bump=DamperCurve(family="linear", slope_n_s_per_m=1500),
        rebound=DamperCurve(family="linear", slope_n_s_per_m=3000),
        friction_n=25.0,
    )
    axle = TrueAxle(
        track_m=1.5,
        sprung_mass_kg=600.0,
        unsprung_mass_kg=80.0,
        spring_rate_n_per_m=60e3,
        motion_ratio=0.75,
        tyre_rate_n_per_m=200e3,
        dampers=(damper, damper),
        stops=Stops(bump_gap_m=0.04, droop_gap_m=0.05),
    )
    return TrueCar(name="by hand", wheelbase_m=2.6, front=axle, rear=axle)


def test_axle_by_hand(car):
    # ks 60 N/mm, MR 0.75, kt 200 N/mm, 300 kg a corner: wheel rate 33.750 N/mm, ride rate 28.877,
    # 1.6881 Hz on the spring, 1.5615 Hz with the tyre (chain of virtual work and springs in
    # series). Damping: 0.75^2 x (1500, 3000) over 2 sqrt(33750 x 300) = 6363.96 N s/m.
    front = truth_of(car).axles["front"]
    assert front.wheel_rate_n_per_m == pytest.approx(33750)
    assert front.spring_frequency_hz == pytest.approx(1.6881, abs=5e-5)
    assert front.body_frequency_hz == pytest.approx(1.5615, abs=5e-5)
    assert front.damping_ratio_bump == pytest.approx(843.75 / 6363.96, rel=1e-5)
    assert front.damping_ratio_rebound == pytest.approx(1687.5 / 6363.96, rel=1e-5)
    assert front.damping_ratio == pytest.approx(1265.625 / 6363.96, rel=1e-5)
    # 40 kg between 233.75 N/mm.
    assert front.wheel_hop_hz == pytest.approx(12.1666, abs=5e-4)
    assert front.friction_n == 25.0


def test_force_points_are_signed(car):
    force = truth_of(car).corners["rl"].force
    assert force["+0.050"] == pytest.approx(75.0)
    assert force["-0.300"] == pytest.approx(-900.0)
    assert len(force) == 10


def test_damping_of_a_bending_curve_is_its_secant_at_five_centimetres_a_second(car):
    # By hand: 2000 N s/m with a knee at 0.05 m/s and nothing left above it, 2000 x 0.05 x tanh(1)
    # = 76.159 N at 0.05 m/s: 1523.2 N s/m.
    curve = DamperCurve(
        family="saturating", slope_n_s_per_m=2000, knee_m_per_s=0.05, high_speed_ratio=0.0
    )
    damper = replace(car.front.dampers[0], bump=curve)
    truth = truth_of(replace(car, front=replace(car.front, dampers=(damper, damper))))
    expected = 1523.19 * 0.75**2 / 6363.96
    assert truth.axles["front"].damping_ratio_bump == pytest.approx(expected, rel=1e-5)


def test_tired_damper_lowers_its_corner_and_the_mean(car):
    left, right = car.front.dampers
    tired = replace(car.front, dampers=(replace(left, condition_ratio=0.4), right))
    truth = truth_of(replace(car, front=tired))
    healthy = truth.corners["fr"].damping_ratio
    assert truth.corners["fl"].damping_ratio == pytest.approx(0.4 * healthy)
    assert truth.axles["front"].damping_ratio == pytest.approx(0.7 * healthy)
    assert truth.axles["rear"].damping_ratio == pytest.approx(healthy)


def test_knob_changes_damping_by_its_factor(car):
    knob = Knob(clicks=10, soft_ratio=1.0, stiff_ratio=4.0, bump_share=0.5)
    knobbed = replace(car, rear=replace(car.rear, knob=knob))
    soft, middle = (truth_of(knobbed.with_clicks(rear=click)).axles["rear"] for click in (0, 5))
    # The middle of a log law from 1 to 4 is 2; half of its logarithm is the square root of 2.
    assert middle.damping_ratio_rebound == pytest.approx(2 * soft.damping_ratio_rebound)
    assert middle.damping_ratio_bump == pytest.approx(np.sqrt(2) * soft.damping_ratio_bump)


def test_whole_car_of_four_equal_corners_is_its_corner(car):
    truth = truth_of(car)
    front = truth.axles["front"]
    assert truth.whole_car.bounce_frequency_hz == pytest.approx(front.body_frequency_hz)
    assert truth.whole_car.bounce_damping_ratio == pytest.approx(front.damping_ratio)


def test_contacts_are_the_stretches_past_the_gap():
    time = np.arange(8) * 0.1
    travel = np.array([0.0, 0.041, 0.043, 0.0, 0.0, 0.0405, 0.02, 0.05])
    contacts = contacts_past(time, travel, 0.04)
    expected = [(0.1, 0.3, 3.0), (0.5, 0.6, 0.5), (0.7, 0.7, 10.0)]
    np.testing.assert_allclose(contacts, expected, atol=1e-9)


def test_truth_of_a_log_holds_its_contacts(car):
    travel = np.zeros((5, 4))
    travel[2, 0], travel[3, 3] = 0.045, -0.052
    truth = truth_of(car, time_s=np.arange(5.0), damper_travel_m=travel)
    np.testing.assert_allclose(truth.corners["fl"].bump_stop, [(2.0, 3.0, 5.0)])
    np.testing.assert_allclose(truth.corners["rr"].top_out, [(3.0, 4.0, 2.0)])
    assert truth.corners["fr"].bump_stop == ()


def test_owner_states_what_he_believes(car):
    wrong = replace(car, stated=StatedErrors(spring_rate=(1.04, 0.97), sprung_mass=(0.98, 1.0)))
    stated = stated_car(wrong)
    assert stated.front.spring_rate_n_per_m == pytest.approx(62.4e3)
    assert stated.rear.spring_rate_n_per_m == pytest.approx(58.2e3)
    assert stated.front.sprung_mass_kg == pytest.approx(588.0)
    assert stated.front.motion_ratio == 0.75
    assert truth_of(wrong).axles["front"].wheel_rate_n_per_m == pytest.approx(33750)
