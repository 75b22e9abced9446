"""Two loggers knocked together: the offset of their clocks, its interval, and when to refuse."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from ridelog.errors import CalibrationError
from ridelog.ingest.shared_bumps import match_bumps

KNOCKS_S = (10.0, 14.3, 17.9)
FINE_HZ = 10_000


def felt(knocks_s, ring_hz: float, damping: float, length_s: float):
    """What a sensor feels of blows of 8 ms: its mount rings at its own frequency."""
    blow = np.zeros(int(length_s * FINE_HZ))
    for number, at in enumerate(knocks_s):
        start, size = int(at * FINE_HZ), int(0.008 * FINE_HZ)
        blow[start : start + size] = (1 + 0.2 * number) * np.sin(np.pi * np.arange(size) / size)
    omega = 2 * np.pi * ring_hz
    mount = ([omega**2], [1, 2 * damping * omega, omega**2])
    return signal.lfilter(*signal.bilinear(*mount, FINE_HZ), blow)


def loggers(seed: int, offset_s: float, knocks_s=KNOCKS_S):
    """A fast card on the body, a phone beside it with its own clock, rate and softness."""
    random = np.random.default_rng(seed)
    end = max(knocks_s, default=15.0) + 8
    true = np.arange(int(end * FINE_HZ)) / FINE_HZ
    one = felt(knocks_s, random.uniform(40, 90), random.uniform(0.1, 0.3), end)
    two = felt(knocks_s, random.uniform(25, 40), random.uniform(0.2, 0.4), end)
    first_s = np.arange(random.uniform(0, 0.002), end - 0.1, 1 / 500)
    second_s = np.arange(random.uniform(0, 0.008), end - 0.1, 1 / random.uniform(95, 210))
    first = np.interp(first_s, true, one) + 0.01 * random.standard_normal(len(first_s))
    second = 1.0 - 0.1 * np.interp(second_s, true, two)
    second += 0.001 * random.standard_normal(len(second_s))
    return first_s, first, second_s - offset_s, second


@pytest.mark.parametrize("offset_s", [-1234.5678, 0.0, 6.2])
def test_the_offset_is_found_wherever_the_clocks_start(offset_s):
    found = match_bumps(*loggers(1, offset_s))
    assert found.bumps == 3
    assert found.drift is None
    assert found.offset_s.value == pytest.approx(offset_s, abs=0.005)
    assert found.offset_s.high - found.offset_s.low < 0.03


@pytest.mark.parametrize("count", [1, 2, 3])
def test_the_interval_covers_the_truth(count):
    tries = 25
    found = [match_bumps(*loggers(50 + seed, 5.4321, KNOCKS_S[:count])) for seed in range(tries)]
    hits = sum(f.offset_s.low <= 5.4321 <= f.offset_s.high for f in found)
    assert {f.bumps for f in found} == {count}
    assert hits >= 22  # 95 % less three standard deviations
    assert np.median([f.offset_s.high - f.offset_s.low for f in found]) < 0.03


def test_a_knock_that_only_one_felt_does_not_mislead():
    first_s, first, second_s, second = loggers(3, 2.5)
    second = second + 0.2 * np.exp(-(((second_s + 2.5 - 20.7) / 0.01) ** 2))
    found = match_bumps(first_s, first, second_s, second)
    assert found.bumps == 3
    assert found.offset_s.value == pytest.approx(2.5, abs=0.005)


def test_knocks_in_an_even_beat_of_which_one_is_lost_are_refused():
    first = loggers(4, 0.0, (8.0, 10.0, 12.0, 14.0))
    second = loggers(4, 0.0, (8.0, 10.0, 12.0))
    with pytest.raises(CalibrationError, match="more than one offset"):
        match_bumps(*first[:2], *second[2:])


def test_recordings_without_a_bump_are_refused():
    random = np.random.default_rng(2)
    time_s = np.arange(6000) / 200
    with pytest.raises(CalibrationError, match="knock three times"):
        match_bumps(
            time_s, random.standard_normal(6000), time_s, np.random.default_rng(5).normal(size=6000)
        )
    with pytest.raises(CalibrationError, match="does not move at all"):
        match_bumps(time_s, np.ones(6000), time_s, random.standard_normal(6000))
