"""Half-power width, decrement and friction split on exact responses of a single mass."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.estimate.friction_split import split_friction
from ridelog.estimate.half_power import half_power
from ridelog.estimate.log_decrement import log_decrement


def resonance(damping_ratio: float, natural_hz: float = 1.4) -> tuple[np.ndarray, np.ndarray]:
    frequency = np.linspace(0.0, 5.0, 5001)
    r = frequency / natural_hz
    return frequency, 1 / np.abs(1 - r**2 + 2j * damping_ratio * r)


@pytest.mark.parametrize(
    ("damping_ratio", "usual_reading"),
    [(0.10, 0.1021), (0.20, 0.2183), (0.25, 0.2890), (0.30, 0.3768)],
)
def test_width_reads_high_and_the_inversion_does_not(damping_ratio, usual_reading):
    # usual readings: computed in a checked collection from the exact half-power points
    found = half_power(*resonance(damping_ratio))
    assert found.width_damping_ratio == pytest.approx(usual_reading, abs=1e-4)
    assert found.damping_ratio == pytest.approx(damping_ratio, rel=1e-4)
    assert found.natural_frequency_hz == pytest.approx(1.4, rel=1e-4)


def test_width_refuses_above_its_limit_and_works_just_below():
    assert half_power(*resonance(0.380)).damping_ratio == pytest.approx(0.380, rel=1e-3)
    with pytest.raises(SignalError, match=r"above a damping ratio of 0\.383 it never does"):
        half_power(*resonance(0.386))


def test_width_refuses_a_peak_at_the_edge():
    frequency, amplitude = resonance(0.1)
    with pytest.raises(SignalError, match="at the edge"):
        half_power(frequency[2000:], amplitude[2000:])


def test_width_refuses_too_few_points():
    with pytest.raises(NotEnoughDataError, match="needs 5 frequencies, the log has 3 frequencies"):
        half_power(np.arange(3.0), np.ones(3))


@pytest.mark.parametrize("damping_ratio", [0.05, 0.2, 0.4, 0.7])
def test_decrement_of_an_exact_decay(damping_ratio):
    # turning points of exp(-z wn t) cos(wd t - phase) with zero speed at t = 0, every half period
    per_half = np.exp(-np.pi * damping_ratio / np.sqrt(1 - damping_ratio**2))
    peaks = 0.04 * (-per_half) ** np.arange(6)
    found = log_decrement(peaks, half_cycles=True)
    assert found.damping_ratio == pytest.approx(damping_ratio, rel=1e-12)
    assert found.curvature == pytest.approx(0.0, abs=1e-12)
    every_second = log_decrement(peaks[::2], half_cycles=False)
    assert every_second.damping_ratio == pytest.approx(damping_ratio, rel=1e-12)


def test_kerb_drop_undershoot_over_overshoot_gives_the_damping_ratio():
    # base step at damping ratio 0.30, computed in a checked collection: 45.10 % and 16.79 %
    found = log_decrement(np.array([45.10, -16.79]), half_cycles=True)
    assert found.damping_ratio == pytest.approx(0.30, abs=0.001)


@pytest.mark.parametrize(
    ("peaks", "half_cycles", "message"),
    [
        ([1.0, 0.5, -0.2], False, "peaks must all have one sign"),
        ([1.0, 0.5], True, "peaks must alternate in sign"),
        ([1.0, 1.2], False, "do not shrink"),
    ],
)
def test_decrement_refuses_what_is_no_decay(peaks, half_cycles, message):
    with pytest.raises(SignalError, match=message):
        log_decrement(np.array(peaks), half_cycles=half_cycles)


def test_split_agrees_with_a_stepped_solution():
    # second opinion: scipy's initial value solver, half swing by half swing
    from scipy.integrate import solve_ivp

    mass, stiffness, damping, friction = 300.0, 20e3, 800.0, 60.0
    position, direction, turns = 0.08, -1.0, [0.08]
    for _ in range(4):

        def accelerate(_time, state, push=friction * direction):
            return [state[1], (-stiffness * state[0] - damping * state[1] - push) / mass]

        def stopped(_time, state):
            return state[1]

        stopped.terminal = True
        stopped.direction = -direction
        found = solve_ivp(
            accelerate, (0, 2), [position, 0.0], events=stopped, rtol=1e-10, atol=1e-13
        )
        position, direction = float(found.y[0, -1]), -direction
        turns.append(position)
    split = split_friction(np.array(turns[:5]))
    assert split.friction_displacement * stiffness == pytest.approx(friction, rel=1e-4)
    critical = 2 * np.sqrt(stiffness * mass)
    assert split.damping_ratio == pytest.approx(damping / critical, rel=1e-4)


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ([3.0, -2.0, -1.0, 0.5], "highs and lows in turn"),
        ([1.0, -2.0, 3.0, -4.0], "do not shrink"),
        ([10.0, -9.0, 7.0, 6.9], "highs and lows in turn|do not shrink|cannot cause"),
        ([10.0, 0.0, 5.0, 2.0, 4.0], "cannot cause"),
    ],
)
def test_split_refuses_what_is_no_decay(points, message):
    with pytest.raises(SignalError, match=message):
        split_friction(np.array(points))


def test_split_needs_four_turning_points():
    with pytest.raises(NotEnoughDataError, match="needs 4 turning points, the log has 3"):
        split_friction(np.array([1.0, -0.5, 0.2]))
