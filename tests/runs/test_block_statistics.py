"""Did it help: false alarms, power, and the pieces by hand."""

from __future__ import annotations

from math import exp, log, sqrt

import numpy as np
import pytest

from ridelog.estimate.result import Estimate
from ridelog.runs.block_statistics import (
    BlockSettings,
    LogChange,
    change_of_estimates,
    mean_error,
    paired_change,
    seconds_to_settle,
    student_95,
    unpaired_change,
)

STILL = BlockSettings(run_to_run_sd=0.0)


def correlated(rng: np.random.Generator, count: int, rho: float, sd: float) -> np.ndarray:
    """First-order autoregression."""
    steps = rng.standard_normal(count)
    values = np.empty(count)
    values[0] = steps[0]
    for i in range(1, count):
        values[i] = rho * values[i - 1] + sqrt(1 - rho**2) * steps[i]
    return sd * values


@pytest.mark.parametrize(
    ("freedom", "factor"),
    [(1, 12.706), (2, 4.303), (3, 3.182), (5, 2.571), (10, 2.228), (20, 2.086), (50, 2.009)],
)
def test_student_factors(freedom: float, factor: float) -> None:
    """Table G.2 of JCGM 100:2008 (95 %)."""
    assert student_95(freedom) == pytest.approx(factor, abs=6e-4)


def test_white_blocks_come_near_the_textbook_error() -> None:
    rng = np.random.default_rng(1)
    error, freedom = mean_error(rng.normal(0, 0.1, 4000), STILL)
    assert error == pytest.approx(0.1 / sqrt(4000), rel=0.08)
    assert freedom > 3000


def test_correlated_blocks_widen_the_error_as_they_must() -> None:
    """Correlation 0.5 triples the variance of the mean of many blocks: (1 + r) / (1 - r)."""
    rng = np.random.default_rng(2)
    error, freedom = mean_error(correlated(rng, 8000, 0.5, 0.1), STILL)
    assert error == pytest.approx(0.1 * sqrt(3 / 8000), rel=0.08)
    assert freedom == pytest.approx(8000 / 3, rel=0.1)


@pytest.mark.parametrize("rho", [0.0, 0.3, 0.4])
@pytest.mark.parametrize("run_sd", [0.01, 0.02])
def test_false_alarms_of_eighteen_pairs(rho: float, run_sd: float) -> None:
    """Nothing changed: at most 7 % called a change (5 % meant, 800 trials)."""
    settings = BlockSettings(run_to_run_sd=run_sd)
    rng = np.random.default_rng(3)
    alarms = 0
    for _ in range(800):
        shift = run_sd * sqrt(2) * rng.standard_normal()
        second = np.exp(correlated(rng, 18, rho, 0.08) + shift)
        alarms += paired_change(np.ones(18), second, settings).proven
    assert alarms / 800 <= 0.07


def test_fifteen_percent_is_found_nine_times_in_ten() -> None:
    rng = np.random.default_rng(4)
    found = [
        paired_change(
            np.ones(18), 1.15 * np.exp(correlated(rng, 18, 0.3, 0.06)), BlockSettings()
        ).proven
        for _ in range(400)
    ]
    assert np.mean(found) >= 0.9


def test_pairing_removes_the_road() -> None:
    """A road that varies twofold from block to block and a change of 10 %."""
    rng = np.random.default_rng(5)
    road = np.exp(rng.normal(0, 0.7, 18))
    first, second = road * np.exp(rng.normal(0, 0.02, 18)), 1.1 * road
    paired = paired_change(first, second)
    assert paired.proven
    assert exp(paired.change) == pytest.approx(1.1, rel=0.02)
    assert not unpaired_change(first, second).proven


def test_unpaired_error_adds_both() -> None:
    rng = np.random.default_rng(6)
    first, second = np.exp(rng.normal(0, 0.1, 2000)), np.exp(rng.normal(0.05, 0.2, 2000))
    change = unpaired_change(first, second, STILL)
    assert change.sd == pytest.approx(sqrt(0.1**2 + 0.2**2) / sqrt(2000), rel=0.08)
    assert change.change == pytest.approx(0.05, abs=0.015)


def told(value: float, random: float | None) -> Estimate:
    """An estimate with a 10 % interval, of which `random` (relative) is its own."""
    return Estimate(
        value=value,
        low=0.9 * value,
        high=1.1 * value,
        random_half_width=None if random is None else random * value,
    )


def test_a_force_balance_is_wrong_alike_in_both_runs() -> None:
    """Half of its interval is new in each drive, and only where both were measured so."""
    pair = (told(0.30, None), told(0.33, None))
    balance = "force balance (all sensors)"
    alike = change_of_estimates(*pair, STILL, methods=(balance, balance))
    mixed = change_of_estimates(*pair, STILL, methods=(balance, "spectral fit"))
    assert alike.sd == pytest.approx(0.5 * mixed.sd)
    assert (alike.proven, mixed.proven) == (True, False)


def test_what_both_have_wrong_cancels() -> None:
    apart = change_of_estimates(told(0.30, 0.02), told(0.33, 0.02), STILL)
    assert apart.sd == pytest.approx(sqrt(2) * 0.02 / 1.96)
    assert apart.change == pytest.approx(log(1.1))
    assert apart.proven
    whole = change_of_estimates(told(0.30, None), told(0.33, None), STILL)
    assert whole.sd == pytest.approx(sqrt(2) * log(1.1 / 0.9) / (2 * 1.96))
    assert not whole.proven


def test_smallest_detectable_is_the_usual_rule() -> None:
    """3.24 standard errors: 5 % level, found nine times out of ten."""
    change = LogChange(change=0.0, sd=0.01, own_sd=0.01)
    assert log(1 + change.smallest_detectable) == pytest.approx(0.0324)


def test_more_driving_settles_what_it_can() -> None:
    """Own error 4 %, change 6.48 %: needs 2 %, so four times the driving."""
    change = LogChange(change=0.0648, sd=0.04, own_sd=0.04)
    assert seconds_to_settle(change, 360.0, STILL) == pytest.approx(4 * 360.0)
    # Runs of an unchanged car differ by 2 %: a change of 5 % is beyond two single drives.
    assert seconds_to_settle(LogChange(change=0.05, sd=0.05, own_sd=0.04), 360.0) is None


def test_paired_needs_pairs() -> None:
    with pytest.raises(ValueError, match="two equal rows"):
        paired_change(np.ones(3), np.ones(4))
