"""A slice of the accuracy table: owners who follow the advice get there, and verdicts hold."""

from __future__ import annotations

import numpy as np
import pytest

from tests.advise.owners import drive_and_turn
from tests.bench.accuracy_advice import SEED, Row, summarize


@pytest.fixture(scope="module")
def good_readings() -> Row:
    """Thirty cars, three kinds of knob, readings good to 4 %."""
    rng = np.random.default_rng(SEED + 1)
    laws = ("log-power", "linear", "orifice (1/c linear)")
    stories = [drive_and_turn(rng, laws[i % 3], 0.04, 0.02) for i in range(30)]
    return summarize("mixed", 0.04, stories)


@pytest.mark.slow
def test_owners_get_there(good_readings: Row) -> None:
    """Both axles right: median two or three drives, nine of ten within four."""
    assert good_readings.right_median <= 3
    assert good_readings.right_p90 <= 4


@pytest.mark.slow
def test_done_means_done(good_readings: Row) -> None:
    """About 1 in 25 verdicts is wrong; of some sixty verdicts seven would be a fault."""
    assert good_readings.false_done <= 0.10
    assert good_readings.never_done <= 0.10


@pytest.mark.slow
def test_predictions_cover_the_next_reading(good_readings: Row) -> None:
    """95 % intervals after one run; 60 predictions, so 90 % or more (binomial, 2.5 % point)."""
    assert good_readings.cover_first >= 0.90
    assert good_readings.cover_later >= 0.88


@pytest.mark.slow
def test_without_errors_the_knob_is_found_by_its_readings_alone() -> None:
    """Perfect readings of a straight-line law: three drives bring any car home."""
    rng = np.random.default_rng(SEED + 2)
    stories = [drive_and_turn(rng, "linear", 0.003, 0.0) for _ in range(6)]
    assert all(story.right_at is not None and story.right_at <= 4 for story in stories)
    assert all(story.done_right for story in stories)
