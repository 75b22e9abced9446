"""Rows onto an even base: nothing touched that need not be, nothing bridged in silence."""

from __future__ import annotations

import numpy as np

from ridelog.condition.clock import read_clock
from ridelog.condition.resample import place

RATE_HZ = 500.0
TIME_S = np.arange(10_000) / RATE_HZ
WAVE = np.sin(2 * np.pi * 1.3 * TIME_S) - 0.4 * np.cos(2 * np.pi * 11.0 * TIME_S)


def test_an_even_and_complete_channel_is_not_even_copied():
    placed = place(WAVE, read_clock(TIME_S))
    assert placed.values is WAVE
    assert placed.missing is None


def test_short_holes_are_bridged_and_long_ones_marked():
    values = WAVE.copy()
    values[1000:1004] = np.nan
    values[3000:3005] = np.nan
    placed = place(values, read_clock(TIME_S))
    assert placed.missing is not None
    assert np.array_equal(np.flatnonzero(placed.missing), np.arange(3000, 3005))
    assert np.max(np.abs(placed.values - WAVE)[1000:1004]) < 0.03
    assert np.all(np.isfinite(placed.values))


def test_rows_lost_altogether_leave_a_marked_hole_in_place():
    kept = np.r_[0:4000, 4100:10_000]
    placed = place(WAVE[kept], read_clock(TIME_S[kept]))
    assert placed.missing is not None
    assert np.array_equal(np.flatnonzero(placed.missing), np.arange(4000, 4100))
    sound = ~placed.missing
    assert np.array_equal(placed.values[sound], WAVE[kept])


def test_a_channel_logged_at_a_fifth_of_the_rate_is_interpolated_smoothly():
    values = np.full_like(WAVE, np.nan)
    values[::5] = WAVE[::5]
    placed = place(values, read_clock(TIME_S))
    assert placed.missing is None or not placed.missing.any()
    # an 11 Hz wave sampled at 100 Hz: a cubic spline is good to some 0.3 % of its amplitude
    assert np.max(np.abs(placed.values - WAVE)[50:-50]) < 0.004


def test_speed_once_a_second_is_filled_between_its_fixes():
    values = np.full_like(TIME_S, np.nan)
    values[::500] = 10.0 + TIME_S[::500]
    placed = place(values, read_clock(TIME_S))
    assert np.max(np.abs(placed.values - (10.0 + TIME_S))[:9500]) < 1e-6


def test_an_uneven_channel_is_put_on_an_even_base():
    rng = np.random.default_rng(5)
    stamps = np.cumsum(rng.uniform(0.6, 1.4, 5000) / RATE_HZ)
    clock = read_clock(stamps)
    placed = place(np.sin(2 * np.pi * 5.0 * stamps), clock)
    base = clock.start_s + clock.interval_s * np.arange(clock.sample_count)
    assert np.std((placed.values - np.sin(2 * np.pi * 5.0 * base))[100:-100]) < 0.005
