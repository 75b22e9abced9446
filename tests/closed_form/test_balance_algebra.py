"""Algebra of the balance against general-purpose libraries and Newton's laws with bare numbers."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import lsq_linear, nnls

from ridelog.car.description import Axle, Car
from ridelog.estimate.balance.fit import solve_nonnegative
from ridelog.estimate.balance.rows import body_weights, corner_weights
from ridelog.estimate.balance.signals import smooth_gate
from ridelog.estimate.balance.slow_forces import (
    real_pairs,
    slow_force_columns,
    taken_by_slow,
    without_slow,
)
from ridelog.estimate.balance.transform import end_taper, make_transform, smoothed_power


def car(front_layout="independent"):
    common = {"spring_rate_n_per_m": 40e3, "unsprung_mass_kg": 80.0}
    return Car(
        name="made up",
        wheelbase_m=2.5,
        front=Axle(
            layout="independent", track_m=1.5, sprung_mass_kg=700.0, motion_ratio=0.6, **common
        ),
        rear=Axle(
            layout="solid",
            track_m=1.4,
            damper_spacing_m=0.98,
            sprung_mass_kg=500.0,
            motion_ratio=0.8,
            **common,
        ),
    )


def test_solve_nonnegative_matches_nnls_where_all_are_held():
    rng = np.random.default_rng(3)
    for _ in range(20):
        design, goal = rng.standard_normal((40, 4)), rng.standard_normal(40)
        found = solve_nonnegative(design.T @ design, design.T @ goal, np.arange(4))
        reference, _ = nnls(design, goal)
        # both minimize the same thing; ours frees no variable again, so compare what is reached
        ours = np.sum((design @ found - goal) ** 2)
        best = np.sum((design @ reference - goal) ** 2)
        assert found.min() >= 0
        assert ours <= best * 1.05


def test_solve_nonnegative_matches_lsq_linear_where_some_are_free():
    rng = np.random.default_rng(4)
    for _ in range(20):
        design = rng.standard_normal((60, 6))
        goal = design @ np.array([1.0, -2.0, 0.5, 0.0, 3.0, -0.2]) + 0.1 * rng.standard_normal(60)
        held = np.array([4, 5])
        lower = np.full(6, -np.inf)
        lower[held] = 0.0
        reference = lsq_linear(design, goal, bounds=(lower, np.inf), tol=1e-12).x
        found = solve_nonnegative(design.T @ design, design.T @ goal, held)
        np.testing.assert_allclose(found, reference, atol=1e-6)
        assert found[5] == 0.0


def test_weights_obey_newton_and_euler_for_a_rigid_body():
    # A rigid body is pushed by four damper forces; its accelerations follow from moments taken by
    # hand about the centre of gravity, and the balance's three rows must then close.
    made, rng = car(), np.random.default_rng(5)
    to_front, to_rear = 2.5 * 500 / 1200, 2.5 * 700 / 1200
    pitch_inertia, roll_inertia = 0.9 * 1200 * to_front * to_rear, 450.0
    for _ in range(5):
        force = rng.normal(0, 1000, 4)
        up = force * np.array([0.6, 0.6, 0.8, 0.8])  # force at the wheel station
        # dampers of the solid axle stand 0.98 m apart under a track of 1.4 m, and the motion
        # ratio holds in roll too: the arm shrinks with the spacing
        arm = np.array([0.75, -0.75, 0.49, -0.49])
        heave = up.sum() / 1200
        pitch = (to_front * up[:2].sum() - to_rear * up[2:].sum()) / pitch_inertia
        roll = (up * arm).sum() / roll_inertia
        side = np.array([0.75, -0.75, 0.7, -0.7])
        ahead = np.array([to_front, to_front, -to_rear, -to_rear])
        body = heave + pitch * ahead + roll * side
        forces = corner_weights(made, np.zeros(2)) @ force
        inertia = body_weights(made, 0.9, roll_inertia) @ body
        np.testing.assert_allclose(forces, inertia, rtol=1e-9)


def test_motion_ratio_corrections_scale_every_row_of_their_axle():
    plain, scaled = corner_weights(car(), np.zeros(2)), corner_weights(car(), np.log([1.1, 0.9]))
    np.testing.assert_allclose(scaled[:, :2], 1.1 * plain[:, :2])
    np.testing.assert_allclose(scaled[:, 2:], 0.9 * plain[:, 2:])


def test_transform_goes_back_and_keeps_power():
    rng = np.random.default_rng(6)
    signals = rng.standard_normal((3, 1234))
    transform = make_transform(1234, 250.0)
    spectra = transform.forward(signals)
    np.testing.assert_allclose(transform.inverse(spectra), signals, atol=1e-12)
    assert transform.padded_count >= 1234 + 3 * 250
    # Parseval: both halves of the spectrum together hold padded_count times the power
    double = 2 * np.sum(np.abs(spectra) ** 2, axis=1) - np.abs(spectra[:, 0]) ** 2
    if transform.padded_count % 2 == 0:
        double -= np.abs(spectra[:, -1]) ** 2
    np.testing.assert_allclose(double / transform.padded_count, np.sum(signals**2, axis=1))
    band = transform.band(2.0, 5.0)
    inside = transform.frequency_hz[band]
    assert inside[0] >= 2.0
    assert inside[-1] <= 5.0 + 250.0 / transform.padded_count
    assert transform.frequency_hz[band.start - 1] < 2.0


def test_taper_has_unit_middle_and_half_cosine_ends():
    window = end_taper(1000, 100.0, 2.0)
    assert (window[200:800] == 1).all()
    np.testing.assert_allclose(window, window[::-1])
    assert window[99] + window[100] == pytest.approx(1.0)
    assert np.diff(window[:200]).min() > 0
    assert end_taper(5, 100.0, 2.0).shape == (5,)


def test_smoothed_power_keeps_a_flat_level_and_follows_steps_by_straight_lines():
    flat = np.full((2, 100), 3.0)
    np.testing.assert_allclose(smoothed_power(flat, 7), 3.0)
    sloped = np.exp(np.linspace(0, 4, 101))[None]
    np.testing.assert_allclose(smoothed_power(sloped, 5)[0, 10:-10], sloped[0, 10:-10], rtol=0.01)


def test_gate_keeps_clear_and_rises_over_its_ramp():
    use = np.ones(1000, dtype=bool)
    use[500:505] = False
    gate = smooth_gate(use, 100.0, clearance_s=0.2, ramp_s=0.5)
    assert gate[480:525].max() == 0.0
    assert gate[429] == 1.0
    assert gate[575] == 1.0
    # half way up the ramp
    assert gate[500 - 20 - 25] == pytest.approx(0.5)
    assert gate[504 + 20 + 25] == pytest.approx(0.5)
    assert (smooth_gate(np.ones(10, dtype=bool), 100.0, clearance_s=1, ramp_s=1) == 1).all()
    assert smooth_gate(~np.ones(10, dtype=bool), 100.0, clearance_s=0.1, ramp_s=1).max() == 0


def test_slow_forces_are_integrated_out_like_extra_unknowns():
    # The same answer as least squares with the slow forces as unknowns of unit prior.
    rng = np.random.default_rng(7)
    design = rng.standard_normal((3, 80)) + 1j * rng.standard_normal((3, 80))
    slow = 5 * (rng.standard_normal((4, 80)) + 1j * rng.standard_normal((4, 80)))
    goal = rng.standard_normal(80) + 1j * rng.standard_normal(80)
    both = np.concatenate([real_pairs(design), real_pairs(slow)]).T
    stacked = np.concatenate([both, np.concatenate([np.zeros((4, 3)), np.eye(4)], axis=1)])
    target = np.concatenate([real_pairs(goal), np.zeros(4)])
    reference, *_ = np.linalg.lstsq(stacked, target, rcond=None)
    columns = np.concatenate([real_pairs(design), real_pairs(goal)[None]]).T
    taken = taken_by_slow(real_pairs(slow), columns)
    normal = columns.T @ columns - taken.T @ taken
    found = np.linalg.solve(normal[:3, :3], normal[:3, 3])
    np.testing.assert_allclose(found, reference[:3], rtol=1e-9)
    residual = goal - found @ design
    # unit variance of the real pairs is a power of two in each bin
    left = without_slow(residual[None], slow, np.array([1.0]), 2.0)[0]
    np.testing.assert_allclose(left, residual - reference[3:] @ slow, rtol=1e-8)


def test_slow_columns_are_the_spectra_of_gated_cosines():
    transform = make_transform(4000, 100.0)
    band = transform.band(0.6, 22.0)
    gate = np.ones(4000)
    assert slow_force_columns(gate, slice(200, 3800), transform, band, 0.45) is None
    gate = smooth_gate(np.arange(4000) // 30 != 60, 100.0, clearance_s=0.1, ramp_s=0.12)
    columns = slow_force_columns(gate, slice(200, 3800), transform, band, 0.45)
    assert len(columns) == 37
    time = (np.arange(4000) + 0.5) / 4000
    plain = transform.forward(gate * np.cos(5 * np.pi * time))[band]
    scale = np.abs(plain).max()
    low = columns.shape[1]
    np.testing.assert_allclose(columns[5] / scale, plain[:low] / scale, atol=0.02)
