"""The simulated car's bounce and pitch, and its axles in roll, against textbooks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.simulate.matrices import car_matrices
from ridelog.simulate.true_car import Torsion, TrueCar

FOOT_M, POUND_FORCE_N = 0.3048, 4.4482216152605
SLUG_KG = POUND_FORCE_N / FOOT_M
POUND_PER_FOOT = POUND_FORCE_N / FOOT_M


def half_car(base, *, mass, inertia, arms, springs) -> TrueCar:
    """A car on (nearly) rigid tyres; `springs` are both corners of an axle together."""
    total = sum(arms)
    front = replace(
        base.front,
        sprung_mass_kg=mass * arms[1] / total,
        spring_rate_n_per_m=springs[0] / 2 / base.front.motion_ratio**2,
    )
    rear = replace(
        base.rear,
        sprung_mass_kg=mass * arms[0] / total,
        spring_rate_n_per_m=springs[1] / 2 / base.rear.motion_ratio**2,
    )
    index = inertia / (mass * arms[0] * arms[1])
    return replace(base, wheelbase_m=total, front=front, rear=rear, pitch_index_ratio=index)


@pytest.mark.parametrize(
    ("mass", "inertia", "arms", "springs", "expected", "tolerance"),
    [
        # Thomson, Theory of Vibration with Applications, sec. 5.3: 3220 lb (g = 32.2), radius 4 ft,
        # springs 2400 and 2600 lb/ft at 4.5 and 5.5 ft; printed 6.90 and 9.06 rad/s.
        pytest.param(
            100 * SLUG_KG,
            1600 * SLUG_KG * FOOT_M**2,
            (4.5 * FOOT_M, 5.5 * FOOT_M),
            (2400 * POUND_PER_FOOT, 2600 * POUND_PER_FOOT),
            (6.90, 9.06),
            1.5e-3,
            id="Thomson",
        ),
        # Edwards & Penney, Differential Equations, 2nd ed., 7.4-24: 100 slug, 1000 slug ft2, two
        # springs of 2000 lb/ft at 6 and 4 ft; printed 6.13 and 10.31 rad/s.
        pytest.param(
            100 * SLUG_KG,
            1000 * SLUG_KG * FOOT_M**2,
            (6 * FOOT_M, 4 * FOOT_M),
            (2000 * POUND_PER_FOOT, 2000 * POUND_PER_FOOT),
            (6.13, 10.31),
            1e-3,
            id="Edwards & Penney",
        ),
        # Rao, Mechanical Vibrations (from memory): 1000 kg, radius 0.9 m, 18 and 22 kN/m at 1.0
        # and 1.5 m; 5.8593 and 9.4341 rad/s.
        pytest.param(1000.0, 810.0, (1.0, 1.5), (18e3, 22e3), (5.8593, 9.4341), 1e-4, id="Rao"),
    ],
)
def test_bounce_and_pitch(make_quarter_car, mass, inertia, arms, springs, expected, tolerance):
    base = make_quarter_car(sprung_kg=100, unsprung_kg=0.1, spring=1.0, tyre=1e10)
    car = half_car(base, mass=mass, inertia=inertia, arms=arms, springs=springs)
    rates = np.abs(np.linalg.eigvals(car_matrices(car).state).imag)
    for value in expected:
        assert np.min(np.abs(rates - value)) < tolerance * value


def test_roll_stiffness_of_a_solid_axle_is_half_rate_times_spacing_squared(make_quarter_car):
    # Gillespie, Fundamentals of Vehicle Dynamics, ch. 6: K = 0.5 Ks s^2 with the lateral distance s
    # between the springs (from memory). Each spring at its wheel rate here.
    base = make_quarter_car(sprung_kg=300, unsprung_kg=60, spring=20e3, tyre=190e3)
    rear = replace(base.rear, layout="solid", damper_spacing_m=1.05)
    one = replace(base, rear=rear)
    weak = replace(rear, spring_rate_n_per_m=1e-6)
    without = replace(base, rear=weak)
    inertia = 1200 * (base.roll_radius_ratio * 1.5) ** 2
    stiffness = [-car_matrices(car).state[10, 2] * inertia for car in (one, without)]
    assert stiffness[0] - stiffness[1] == pytest.approx(0.5 * 20e3 * 1.05**2, rel=1e-9)


def test_anti_roll_bar_works_in_roll_alone(make_quarter_car):
    # A bar giving b newtons at each wheel per metre of difference adds a moment b t x t to the body
    # at one radian: b t^2 per axle; nothing in heave (statics).
    base = make_quarter_car(sprung_kg=300, unsprung_kg=60, spring=20e3, tyre=190e3)
    barred = replace(base, front=replace(base.front, bar_rate_n_per_m=7e3))
    inertia = 1200 * (base.roll_radius_ratio * 1.5) ** 2
    plain, with_bar = car_matrices(base).state, car_matrices(barred).state
    assert -(with_bar - plain)[10, 2] * inertia == pytest.approx(7e3 * 1.5**2, rel=1e-9)
    np.testing.assert_allclose(with_bar[8], plain[8], atol=1e-12)


@pytest.mark.parametrize("spacing_m", [0.9, 1.2])
def test_dampers_of_a_solid_axle_move_less_in_roll(make_quarter_car, spacing_m):
    # Geometry: one wheel up by 1 tilts the beam about the other; a damper at spacing / 2 from the
    # middle rises (1 + spacing / track) / 2, its partner (1 - spacing / track) / 2.
    base = make_quarter_car(sprung_kg=300, unsprung_kg=60, spring=20e3, tyre=190e3)
    rear = replace(base.rear, layout="solid", damper_spacing_m=spacing_m)
    rows = car_matrices(replace(base, rear=rear)).travel_of_coordinates
    near, far = 0.5 + spacing_m / 3.0, 0.5 - spacing_m / 3.0
    np.testing.assert_allclose(rows[2:, 6], [near, far], rtol=1e-12)
    np.testing.assert_allclose(rows[2:, 7], [far, near], rtol=1e-12)
    np.testing.assert_allclose(rows[:2, 4:6], np.eye(2), atol=1e-12)


def test_twist_of_the_body_is_the_stated_stiffness_and_frequency(make_quarter_car):
    # Statics: couples of F x track at either end twist the body by F x track / S; corner heights
    # +-q are 4 q / track of twist between the ends; forces F at four corners are 4 F on q.
    spring, stated, force_n = 20e3, 3e5, 100.0
    base = make_quarter_car(sprung_kg=300, unsprung_kg=60, spring=spring, tyre=190e3)
    car = replace(base, torsion=Torsion(stiffness_n_m_per_rad=stated, frequency_hz=20.0))
    state = car_matrices(car).state
    # A raised front left wheel pushes its corner by the spring rate: that tells the twist's mass.
    mass = spring / state[11, 4]
    stiffness = -state[11, 3] * mass - 4 * spring
    corner_m = force_n * 1.5 / stated * 1.5 / 4
    assert stiffness == pytest.approx(4 * force_n / corner_m, rel=1e-9)
    assert np.sqrt(stiffness / mass) / (2 * np.pi) == pytest.approx(20.0, rel=1e-9)
    np.testing.assert_array_equal(np.sign(state[11, 4:8]), [1, -1, -1, 1])
