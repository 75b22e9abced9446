"""Clocks that are broken on purpose, with the true sample numbers known."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.condition.clock import read_clock
from ridelog.errors import SignalError

RATE_HZ = 500.0
TRUE_S = 12.5 + np.arange(20_000) / RATE_HZ


def sample_numbers(clock) -> np.ndarray:
    return np.arange(clock.sample_count) if clock.position is None else clock.position


def test_an_even_clock_is_left_alone():
    clock = read_clock(TRUE_S)
    assert clock.rows is None
    assert clock.position is None
    assert clock.stamps_s is None
    assert clock.interval_s == pytest.approx(1 / RATE_HZ, rel=1e-9)
    assert clock.start_s == pytest.approx(12.5)


@pytest.mark.parametrize("scatter_ratio", [0.1, 0.2, 0.35])
def test_scattered_stamps_lie_on_one_line(scatter_ratio):
    rng = np.random.default_rng(1)
    clock = read_clock(TRUE_S + scatter_ratio / RATE_HZ * rng.standard_normal(len(TRUE_S)))
    assert clock.sample_count == len(TRUE_S)
    assert clock.stamps_s is None
    assert clock.interval_s == pytest.approx(1 / RATE_HZ, rel=1e-6)
    assert clock.jitter_ratio == pytest.approx(scatter_ratio, rel=0.05)


def test_lost_rows_are_counted_among_scattered_stamps():
    rng = np.random.default_rng(2)
    kept = np.ones(len(TRUE_S), dtype=bool)
    for start, lost in ((3000, 1), (5000, 2), (5100, 7), (9000, 200), (9400, 3)):
        kept[start : start + lost] = False
    stamps = TRUE_S + 0.1 / RATE_HZ * rng.standard_normal(len(TRUE_S))
    clock = read_clock(stamps[kept])
    assert np.array_equal(sample_numbers(clock), np.flatnonzero(kept))


def test_many_single_lost_rows_are_counted_on_a_clean_clock():
    kept = np.random.default_rng(3).random(len(TRUE_S)) > 0.05
    kept[[0, -1]] = True
    clock = read_clock(TRUE_S[kept])
    assert np.array_equal(sample_numbers(clock), np.flatnonzero(kept))


def test_a_clock_set_back_runs_on_without_a_hole():
    stamps = TRUE_S.copy()
    stamps[8000:] -= 3.21
    clock = read_clock(stamps)
    assert clock.sample_count == len(TRUE_S)
    assert len(clock.backward_s) == 1
    assert clock.backward_s[0] == pytest.approx(TRUE_S[8000] - 3.21)


@pytest.mark.parametrize("length", [1, 10, 150])
def test_stamps_that_slip_and_come_back_lose_no_row(length):
    stamps = TRUE_S.copy()
    stamps[8000 : 8000 + length] -= 0.4
    clock = read_clock(stamps)
    assert np.array_equal(sample_numbers(clock), np.arange(len(TRUE_S)))
    assert clock.interval_s == pytest.approx(1 / RATE_HZ, rel=1e-6)


def test_a_stuck_clock_is_told_and_bridged():
    stamps = TRUE_S.copy()
    stamps[8000:8040] = stamps[8000]
    clock = read_clock(stamps)
    assert clock.sample_count == len(TRUE_S)
    assert len(clock.still_s) == 39


def test_blocks_written_out_of_turn_are_put_in_order():
    order = np.r_[0:4000, 5000:6000, 4000:5000, 6000 : len(TRUE_S)]
    clock = read_clock(TRUE_S[order])
    assert clock.rows is not None
    assert np.array_equal(order[clock.rows], np.arange(len(TRUE_S)))
    assert len(clock.backward_s) == 1


@pytest.mark.parametrize("rate_hz", [400.0, 2000.0])
def test_stamps_rounded_to_milliseconds_are_no_jitter(rate_hz):
    clock = read_clock(np.round(np.arange(20_000) / rate_hz, 3))
    assert clock.sample_count == 20_000
    assert clock.rounded
    assert clock.still_s == ()
    assert clock.interval_s == pytest.approx(1 / rate_hz, rel=1e-5)


def test_a_logger_that_samples_unevenly_keeps_its_stamps():
    steps = np.random.default_rng(4).uniform(0.6, 1.4, 5000) / RATE_HZ
    clock = read_clock(np.cumsum(steps))
    assert clock.stamps_s is not None


@pytest.mark.parametrize("every", [20, 80, 500])
def test_rows_written_on_top_of_the_beat_do_not_stretch_the_log(every):
    beat = np.arange(6000) * 0.06
    stamps = np.sort(np.concatenate([beat, beat[7::every] + 0.004]))
    clock = read_clock(stamps)
    assert clock.stamps_s is not None
    assert clock.sample_count * clock.interval_s == pytest.approx(beat[-1], rel=2e-4)
    assert clock.jitter_ratio < 0.2


def test_a_single_row_too_many_costs_no_more_than_itself():
    clock = read_clock(np.sort(np.append(TRUE_S, TRUE_S[500] + 0.1 / RATE_HZ)))
    assert clock.sample_count == pytest.approx(len(TRUE_S), abs=1)


def test_an_empty_time_cell_is_bridged():
    stamps = TRUE_S.copy()
    stamps[[100, 7000]] = np.nan
    clock = read_clock(stamps)
    assert clock.sample_count == len(TRUE_S)


def test_a_clock_that_never_moves_is_refused():
    with pytest.raises(SignalError, match="the time column does not advance"):
        read_clock(np.full(100, 3.0))
