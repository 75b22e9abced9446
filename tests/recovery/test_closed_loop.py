"""Cars that follow the advice end near their targets: simulated, measured, advised, turned."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.recording import AXLES
from tests.bench.closed_loop import MOST_DRIVES, Story, damping_by_click, draw_scenes, loop, summary


@pytest.fixture(scope="module")
def stories() -> list[Story]:
    return loop("full", seed=161, cars=3, duration_s=45.0)


def misses(stories: list[Story], drive: int) -> np.ndarray:
    """How far each axle truly is from its target in one drive, relative."""
    return np.array([story.miss(drive, axle) for story in stories for axle in AXLES])


@pytest.mark.slow
def test_following_the_advice_leads_to_the_target(stories: list[Story]) -> None:
    first, last = misses(stories, 0), misses(stories, MOST_DRIVES)
    assert np.median(first) > 0.25
    assert np.median(last) < 0.10
    assert last.max() < 0.25


@pytest.mark.slow
def test_predictions_hold_and_no_click_lies_beyond_the_knob(stories: list[Story]) -> None:
    numbers = summary(stories)
    assert numbers["advice beyond the knob"] == 0
    assert numbers["predictions"] >= 6
    assert numbers["prediction holds"] >= 0.8
    assert numbers["measured interval holds truth"] >= 0.8


@pytest.mark.slow
def test_every_turn_is_the_one_advised(stories: list[Story]) -> None:
    for story in stories:
        for drive, advice in enumerate(story.advices[:-1]):
            for axle in AXLES:
                assert story.clicks(drive + 1, axle) == advice.axles[axle].clicks.next


def test_the_bench_asks_only_for_what_a_knob_reaches() -> None:
    for scene in draw_scenes("full", seed=161, cars=4, duration_s=45.0):
        for axle, target in zip(AXLES, scene.car.target_damping_ratio, strict=True):
            truth = damping_by_click(scene.car, axle)
            assert truth.min() * 0.92 <= target <= truth.max() * 1.08


@pytest.mark.slow
def test_a_first_drive_in_two_halves_leads_there_in_the_second() -> None:
    """Both halves are used: the knobs stand a third apart, and the law is believed sooner."""
    stories = loop(
        "full", 161, cars=3, duration_s=60.0, situation="usual", halves=True, most_drives=2
    )
    for story in stories:
        for axle in AXLES:
            last = story.scene.car.axle(axle).knob.clicks
            moved = story.clicks(0, axle) - story.first_half.setup.clicks[f"{axle[0]}l"]
            assert abs(moved) == pytest.approx(last / 3, abs=0.5)
        assert len(story.advices[0].runs) == 2
    assert np.median(misses(stories, 1)) < 0.10
    assert misses(stories, 1).max() < 0.20
