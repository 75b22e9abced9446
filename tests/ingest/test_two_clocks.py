"""Two loggers on one ride: the offset of their clocks, its interval, and when to refuse."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ridelog.errors import CalibrationError
from ridelog.ingest.two_clocks import match_clocks


def ride(random: np.random.Generator, tones: int = 200, highest_hz: float = 14.0):
    """A random motion from 0.7 Hz up that can be asked for at any instant."""
    hz = random.uniform(0.7, highest_hz, tones)
    phase = random.uniform(0, 2 * np.pi, tones)

    def at(time_s: np.ndarray) -> np.ndarray:
        total = np.zeros_like(time_s)
        for each, start in zip(hz, phase, strict=True):
            total += np.sin(2 * np.pi * each * time_s + start)
        return total / math.sqrt(tones / 2)

    return at


def two_loggers(seed: int, offset_s: float, drift: float = 0.0, noise: float = 0.5):
    """First: 500 Hz for 60 s. Second: 104 Hz for 50 s, 5 s later, its own clock, other units."""
    random = np.random.default_rng(seed)
    motion = ride(random)
    first_s = 3.0 + np.arange(30_000) / 500
    true_s = 8.0 + np.arange(5_200) / 104
    second_s = (true_s - offset_s + drift * 33.0) / (1 + drift)
    first = motion(first_s) + noise * random.standard_normal(len(first_s))
    second = 9.8 - 0.1 * (motion(true_s) + noise * random.standard_normal(len(true_s)))
    return first_s, first, second_s, second


@pytest.mark.parametrize("offset_s", [-1234.5678, 0.0, 17.3])
def test_the_offset_is_found_wherever_the_clocks_start(offset_s):
    found = match_clocks(*two_loggers(1, offset_s))
    assert found.offset_s.value == pytest.approx(offset_s, abs=0.001)
    assert found.offset_s.high - found.offset_s.low < 0.004
    assert found.overlap_s == pytest.approx(50, abs=1)
    assert found.correlation > 0.5


@pytest.mark.slow
def test_the_interval_covers_the_truth():
    tries = 25
    hits = 0
    for seed in range(tries):
        found = match_clocks(*two_loggers(100 + seed, 5.4321))
        middle = found.on_first_clock(np.array([found.middle_s]))[0] - found.middle_s
        half = (found.offset_s.high - found.offset_s.low) / 2
        hits += abs(middle - 5.4321) <= half
    assert hits / tries >= 0.95 - 3 * math.sqrt(0.95 * 0.05 / tries)


def test_a_clock_that_drifts_is_put_right_at_both_ends():
    drift = 5e-4  # a poor resonator; 25 ms over the recording
    first_s, first, second_s, second = two_loggers(2, 7.0, drift)
    found = match_clocks(first_s, first, second_s, second)
    assert found.drift is not None
    assert found.drift.low <= drift <= found.drift.high
    true_s = 8.0 + np.arange(5_200) / 104
    np.testing.assert_allclose(found.on_first_clock(second_s), true_s, atol=0.003)


@pytest.mark.slow
def test_a_quarter_of_an_hour_with_drift():
    """Half a second of drift would blur the whole; pieces find the place, blocks the line."""
    random = np.random.default_rng(11)
    motion = ride(random)
    first_s = np.arange(90_000) / 100
    true_s = 30.0 + np.arange(85_000) / 100
    second_s = (true_s - 12.0) * (1 - 3e-4)
    first = motion(first_s) + 0.5 * random.standard_normal(len(first_s))
    second = motion(true_s) + 0.5 * random.standard_normal(len(true_s))
    found = match_clocks(first_s, first, second_s, second)
    np.testing.assert_allclose(found.on_first_clock(second_s), true_s, atol=0.002)


def test_no_drift_is_taken_off_where_none_shows():
    found = match_clocks(*two_loggers(3, 2.0))
    assert found.drift is None or abs(found.drift.value) < 2e-4


def test_different_rides_are_refused():
    first_s, first, _, _ = two_loggers(4, 0.0)
    _, _, second_s, second = two_loggers(5, 0.0)
    with pytest.raises(CalibrationError, match="do not show the same ride"):
        match_clocks(first_s, first, second_s, second)


def test_a_motion_that_repeats_itself_is_refused():
    """A pure tone fits in many places, each as well as the other."""
    time_s = np.arange(6000) / 100
    tone = np.sin(2 * np.pi * 1.5 * time_s)
    with pytest.raises(CalibrationError, match="the next best place"):
        match_clocks(time_s, tone, time_s[:5000] + 3, tone[:5000])


def test_too_short_a_recording_is_refused():
    first_s, first, second_s, second = two_loggers(6, 0.0)
    with pytest.raises(CalibrationError, match="shorter than 24 s"):
        match_clocks(first_s, first, second_s[:1000], second[:1000])


def test_an_offset_too_vague_to_be_of_use_is_refused():
    """Each piece of the second is shifted by up to 80 ms of its own, as in unlike sensors."""
    random = np.random.default_rng(21)
    motion = ride(random, highest_hz=3.0)
    first_s = np.arange(6000) / 100
    shift_s = np.repeat(random.uniform(-0.08, 0.08, 8), 750)
    with pytest.raises(CalibrationError, match=r"can be told to \+-\d+ ms only"):
        match_clocks(first_s, motion(first_s), first_s, motion(first_s + shift_s))
