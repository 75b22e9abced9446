"""Filters and calculus on waves whose answer is known by hand, and against scipy.signal."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from ridelog.condition.filters import band_pass, high_pass, low_pass
from ridelog.condition.integrate import differentiate, integrate

RATE_HZ = 250.0
TIME_S = np.arange(5000) / RATE_HZ
INNER = slice(500, -500)


def wave(frequency_hz: float) -> np.ndarray:
    return np.sin(2 * np.pi * frequency_hz * TIME_S + 0.3)


@pytest.mark.parametrize("frequency_hz", [0.5, 2.0, 9.0, 30.0])
def test_low_pass_gain_is_the_stated_one_and_phase_is_zero(frequency_hz):
    gain = 1 / (1 + (frequency_hz / 9.0) ** 8)
    passed = low_pass(wave(frequency_hz), RATE_HZ, 9.0, order=4)
    assert np.max(np.abs(passed - gain * wave(frequency_hz))[INNER]) < 2e-3


def test_low_pass_agrees_with_a_butterworth_run_both_ways():
    values = np.random.default_rng(6).standard_normal(len(TIME_S))
    sections = signal.butter(4, 9.0, fs=RATE_HZ, output="sos")
    # the digital filter's frequency axis is warped: 9 Hz of 125 Hz, some 0.4 % at the edge
    reference = signal.sosfiltfilt(sections, values)
    error = np.std((low_pass(values, RATE_HZ, 9.0, order=4) - reference)[INNER])
    assert error < 0.02 * np.std(reference)


def test_high_pass_and_low_pass_make_up_the_whole():
    values = np.random.default_rng(7).standard_normal((2, len(TIME_S)))
    whole = low_pass(values, RATE_HZ, 5.0) + high_pass(values, RATE_HZ, 5.0)
    assert np.allclose(whole, values, atol=1e-12)


def test_band_pass_keeps_the_middle_wave():
    passed = band_pass(wave(0.3) + wave(4.0) + wave(60.0), RATE_HZ, 1.0, 15.0)
    assert np.std((passed - wave(4.0))[INNER]) < 0.01


def test_a_ramp_passes_a_low_pass_to_its_ends():
    ramp = 3.0 + 0.2 * TIME_S
    assert np.max(np.abs(low_pass(ramp, RATE_HZ, 2.0) - ramp)) < 1e-3


@pytest.mark.parametrize("times", [1, 2])
def test_derivative_of_a_sine(times):
    omega = 2 * np.pi * 3.0
    expected = {1: omega * np.cos(omega * TIME_S + 0.3), 2: -(omega**2) * wave(3.0)}[times]
    found = differentiate(wave(3.0), RATE_HZ, high_hz=40.0, times=times)
    assert np.max(np.abs(found - expected)[INNER]) < 1e-3 * omega**times


@pytest.mark.parametrize("times", [1, 2])
def test_integral_of_a_sine(times):
    omega = 2 * np.pi * 3.0
    expected = {1: -np.cos(omega * TIME_S + 0.3) / omega, 2: -wave(3.0) / omega**2}[times]
    found = integrate(wave(3.0) + 5.0, RATE_HZ, low_hz=0.3, times=times)
    # the ends are less exact for some 1 / low_hz
    assert np.max(np.abs(found - expected)[1500:-1500]) < 5e-3 / omega**times


def test_derivative_keeps_a_constant_slope():
    found = differentiate(1.0 - 0.7 * TIME_S, RATE_HZ, high_hz=40.0)
    assert np.max(np.abs(found + 0.7)[50:-50]) < 2e-3


@pytest.mark.parametrize("every", [2, 3])
@pytest.mark.parametrize("count", [3000, 3001, 3005])
def test_thinned_derivative_is_every_so_many_th_of_the_whole(every, count):
    values = low_pass(np.random.default_rng(4).standard_normal(count), RATE_HZ, 30.0)
    whole = differentiate(values, RATE_HZ, high_hz=30.0)[::every]
    found = differentiate(values, RATE_HZ, high_hz=30.0, every=every)
    assert found.shape == whole.shape
    assert np.max(np.abs(found - whole)) < 5e-3 * np.max(np.abs(whole))
