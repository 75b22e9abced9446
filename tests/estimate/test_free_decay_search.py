"""How early a decay may begin, and how much its fellows' disagreement widens a number."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ridelog.estimate.decay_fit import DecayFit
from ridelog.estimate.decay_numbers import IntervalSettings, disagreement
from ridelog.estimate.decay_reach import first_of_last_run


@pytest.mark.parametrize(
    ("passes", "first"),
    [
        ("00011111", 3),
        ("11000111", 5),  # fits while hands hold still before the letting go: not this run
        ("00101101", 2),  # chance misses
        ("00000100", 5),
        ("11111000", None),
        ("00000000", None),
    ],
)
def test_earliest_start_belongs_to_the_run_that_lasts(passes, first):
    assert first_of_last_run(np.array([c == "1" for c in passes])) == first


def fit_of_two_decays(pull, second_weight=50.0):
    """One unknown with a prior of width 1 and two decays that pull it apart."""
    weights = np.array([50.0, second_weight])
    return DecayFit(
        shared=np.zeros(1),
        states=np.zeros((10, 2)),
        fitted_m_per_s2=np.zeros((2, 2, 1)),
        varied=np.arange(1),
        normal=np.array([[1.0 + weights.sum()]]),
        decay_normal=weights[:, None, None],
        decay_pull=np.array([[pull], [-pull]]),
        misfit=1.0,
        decay_misfit=np.ones(2),
        cost=0.0,
    )


def factor(fit):
    covariance = np.linalg.inv(fit.normal)
    return disagreement(fit, covariance, np.ones(1), IntervalSettings())


def test_decays_that_agree_change_nothing():
    assert factor(fit_of_two_decays(0.0)) == 1.0
    assert factor(fit_of_two_decays(1.0)) == 1.0


def test_decays_that_disagree_widen_the_number():
    # By hand: without one of them the number moves by pull / 51; noise alone would move it by
    # sqrt(1/51 - 1/101). At twice that, two decays of mean square 4 stand beside two taken as
    # noise: sqrt((2 + 2 x 4) / 4).
    pull = 2 * 51 * math.sqrt(1 / 51 - 1 / 101)
    assert factor(fit_of_two_decays(pull)) == pytest.approx(math.sqrt(2.5), rel=1e-9)


def test_a_decay_that_says_nothing_has_no_vote():
    pull = 2 * 51 * math.sqrt(1 / 51 - 1 / 101)
    silent = fit_of_two_decays(0.0, second_weight=1e-9)
    silent.decay_pull[1] = pull * 1e-9
    assert factor(silent) == 1.0
