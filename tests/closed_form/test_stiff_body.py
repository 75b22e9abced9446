"""Corner weights of a stiff body: textbook statics, and general solvers that know none of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize

from ridelog.car.description import Axle, Car
from ridelog.estimate.roll_stiffness import axle_roll, front_share
from ridelog.estimate.stiff_body import body_rows, cross_load_pattern, perch_response
from ridelog.simulate.matrices import car_matrices
from ridelog.simulate.random_car import CarStyle, random_car
from ridelog.simulate.true_car import stated_car

DIAGONAL = np.array([1.0, -1.0, -1.0, 1.0])
TYRES = (200e3, 180e3)


def axle(**changes):
    usual = {
        "layout": "independent",
        "track_m": 1.5,
        "sprung_mass_kg": 600.0,
        "unsprung_mass_kg": 80.0,
        "spring_rate_n_per_m": 60e3,
        "motion_ratio": 0.7,
    }
    return Axle(**{**usual, **changes})


def car(front=None, rear=None):
    return Car(name="a made-up car", wheelbase_m=2.6, front=front or axle(), rear=rear or axle())


UNLIKE = car(
    front=axle(track_m=1.46, bar_rate_n_per_m=9e3),
    rear=axle(layout="solid", damper_spacing_m=1.0, track_m=1.4, motion_ratio=0.85),
)


def ride_rates(a_car, tyres=TYRES):
    wheel = [a.spring_rate_n_per_m * a.motion_ratio**2 for a in (a_car.front, a_car.rear)]
    return np.repeat([k * t / (k + t) for k, t in zip(wheel, tyres, strict=True)], 2)


def test_a_square_car_moves_three_quarters_at_the_turned_corner():
    """Four equal legs: one leg longer by d lifts its corner 3/4 d, its neighbours 1/4, far -1/4.

    Rigid table on four equal springs (textbook statics; from memory).
    """
    response = perch_response(car(), (200e3, 200e3))
    wheel_rise = 1 / 0.7  # perch rise over motion ratio
    rise = response.height_m_per_m[:, 0] / wheel_rise
    assert rise == pytest.approx([0.75, 0.25, 0.25, -0.25])
    rate = ride_rates(car(), (200e3, 200e3))[0]
    assert response.load_n_per_m[:, 0] / wheel_rise == pytest.approx(rate / 4 * DIAGONAL)


def test_both_perches_of_a_diagonal_change_the_cross_weight_only():
    """Common practice of corner weighting: a diagonal raised, the other lowered, heights stay."""
    response = perch_response(car(), (200e3, 200e3))
    turned = 0.001 * np.array([1.0, -1.0, -1.0, 1.0])
    assert response.height_m_per_m @ turned == pytest.approx(np.zeros(4), abs=1e-15)
    load = response.load_n_per_m @ turned
    assert load == pytest.approx(0.001 / 0.7 * ride_rates(car(), (200e3, 200e3)) * DIAGONAL)


def test_unequal_ends_follow_the_one_redundant_support():
    """Loads change along n = (1/tf, -1/tf, -1/tr, 1/tr) alone, by u.n / sum(n^2 / R)."""
    a_car = car(front=axle(track_m=1.3, motion_ratio=0.6), rear=axle(track_m=1.6, motion_ratio=0.9))
    response = perch_response(a_car, TYRES)
    pattern = np.array([1 / 1.3, -1 / 1.3, -1 / 1.6, 1 / 1.6])
    rates = ride_rates(a_car)
    ratio = np.array([0.6, 0.6, 0.9, 0.9])
    for corner in range(4):
        wheel_rise = np.zeros(4)
        wheel_rise[corner] = 1 / ratio[corner]
        size = wheel_rise @ pattern / np.sum(pattern**2 / rates)
        assert response.load_n_per_m[:, corner] == pytest.approx(size * pattern)
        height = wheel_rise - size * pattern / rates
        assert response.height_m_per_m[:, corner] == pytest.approx(height, abs=1e-12)


@pytest.mark.parametrize("a_car", [car(), UNLIKE], ids=["alike", "bar and solid axle"])
def test_patterns_do_one_thing_and_leave_the_other(a_car):
    response = perch_response(a_car, TYRES)
    plane = response.perch_for_plane
    assert response.load_n_per_m @ plane == pytest.approx(np.zeros((4, 3)), abs=1e-6)
    heights = response.height_m_per_m @ plane
    assert heights[:, 0] == pytest.approx([1, 1, 0, 0], abs=1e-9)
    assert heights[:, 1] == pytest.approx([0, 0, 1, 1], abs=1e-9)
    lean = heights[:, 2]
    assert lean[0] - lean[1] == pytest.approx(1.0)
    tracks = a_car.rear.track_m / a_car.front.track_m
    assert lean[2] - lean[3] == pytest.approx(tracks)
    cross = response.perch_for_cross_m_per_n
    assert response.height_m_per_m @ cross == pytest.approx(np.zeros(4), abs=1e-12)
    load = response.load_n_per_m @ cross
    assert load[1] + load[2] == pytest.approx(1.0)
    assert load == pytest.approx(cross_load_pattern(a_car))


def energy(unknowns, a_car, perch_m):
    """Energy of springs, bars and tyres, written out spring by spring [J]."""
    body, wheel = unknowns[:3], unknowns[3:]
    over = body_rows(a_car) @ body
    total = 0.0
    for start, each, tyre in ((0, a_car.front, TYRES[0]), (2, a_car.rear, TYRES[1])):
        left, right = wheel[start] - over[start], wheel[start + 1] - over[start + 1]
        both, lean = (left + right) / 2, (left - right) / 2
        share = (each.damper_spacing_m or each.track_m) / each.track_m
        for side, sign in ((0, 1), (1, -1)):
            squash = each.motion_ratio * (both + sign * share * lean) + perch_m[start + side]
            total += each.spring_rate_n_per_m / 2 * squash**2
            total += tyre / 2 * wheel[start + side] ** 2
        total += (each.bar_rate_n_per_m or 0.0) / 2 * (left - right) ** 2
    return total


@pytest.mark.parametrize("corner", range(4))
def test_agrees_with_least_energy(corner):
    """Another road: least potential energy, found by a general minimiser (scipy)."""
    perch = np.zeros(4)
    perch[corner] = 0.01
    scaled = optimize.minimize(
        lambda x: energy(x / 1000, UNLIKE, perch),
        np.zeros(7),
        method="BFGS",
        options={"gtol": 1e-9},
    )
    body, wheel = scaled.x[:3] / 1000, scaled.x[3:] / 1000
    response = perch_response(UNLIKE, TYRES)
    assert response.height_m_per_m @ perch == pytest.approx(body_rows(UNLIKE) @ body, abs=2e-7)
    load = -np.repeat(TYRES, 2) * wheel
    assert response.load_n_per_m @ perch == pytest.approx(load, abs=0.05)


@pytest.mark.parametrize("seed", [201, 202, 203])
def test_agrees_with_the_simulated_car_at_rest(seed):
    """The simulator's own equations of motion, held still, share nothing with ours."""
    true = random_car(np.random.default_rng(seed), CarStyle())
    stated = stated_car(replace(true, stated=type(true.stated)()))
    stated = replace(
        stated,
        front=replace(stated.front, bar_rate_n_per_m=true.front.bar_rate_n_per_m),
        rear=replace(stated.rear, bar_rate_n_per_m=true.rear.bar_rate_n_per_m),
    )
    matrices = car_matrices(true)
    count = matrices.body_of_coordinates.shape[1]
    stiffness = matrices.state[count : 2 * count, :count]
    tyres = (true.front.tyre_rate_n_per_m, true.rear.tyre_rate_n_per_m)
    response = perch_response(stated, tyres)
    for corner in range(4):
        each = true.front if corner < 2 else true.rear
        # A raised perch pushes along the spring: a force through the motion ratio.
        push = matrices.force[count : 2 * count, 4 + corner]
        push = push * each.spring_rate_n_per_m * each.motion_ratio
        rest = np.linalg.solve(stiffness, -push)
        assert matrices.body_of_coordinates @ rest == pytest.approx(
            response.height_m_per_m[:, corner], abs=1e-9
        )
        load = -np.repeat(tyres, 2) * rest[4:]
        assert load == pytest.approx(response.load_n_per_m[:, corner], abs=1e-3)


def test_roll_stiffness_is_that_of_the_springs_statics():
    """A couple on the body of `stiff_body`'s car leans it by couple / roll stiffness."""
    front = axle_roll(UNLIKE.front, 60e3 * 0.7**2, 9e3, TYRES[0])
    rear = axle_roll(UNLIKE.rear, 60e3 * 0.85**2, 0.0, TYRES[1])

    def leaned(unknowns):
        return energy(unknowns / 1000, UNLIKE, np.zeros(4)) - 1000 * unknowns[2] / 1000

    found = optimize.minimize(leaned, np.zeros(7), method="BFGS", options={"gtol": 1e-9})
    total = front.total_n_m_per_rad + rear.total_n_m_per_rad
    assert found.x[2] / 1000 == pytest.approx(1000 / total, rel=1e-4)
    wheels = found.x[3:] / 1000
    couple = TYRES[0] * (wheels[0] - wheels[1]) * 1.46 / 2
    assert couple / 1000 == pytest.approx(front_share(front, rear), rel=1e-3)
