"""Clicks the owner's way, from either end."""

import dataclasses

import pytest

from ridelog.advise.result import Change
from ridelog.recording import CORNERS_OF_AXLE
from ridelog.report.clicks import (
    counting_words,
    direction_words,
    knob_words,
    owner_count,
    turn_words,
)
from tests.report import examples

SOFT = examples.car().front
STIFF = examples.car(clicks_from="stiff").front  # 18 clicks


@pytest.mark.parametrize(
    ("axle", "from_soft", "counted"),
    [(SOFT, 6, 6), (STIFF, 6, 12), (STIFF, 0, 18), (STIFF, 18, 0), (SOFT, None, None)],
)
def test_owner_count(axle, from_soft, counted):
    assert owner_count(axle, from_soft) == counted


def test_cannot_count_from_stiff_without_the_number_of_clicks():
    axle = dataclasses.replace(STIFF, clicks=None)
    assert owner_count(axle, 6) is None


def test_each_knob_counts_from_its_own_end():
    axle = dataclasses.replace(STIFF, bump_clicks=10, rebound_clicks=24)
    assert owner_count(axle, 6, "bump_clicks") == 4
    assert owner_count(axle, 6, "rebound_clicks") == 18


@pytest.mark.parametrize(
    ("axle", "now", "following", "words", "way"),
    [
        (SOFT, 6, 9, "turn 6 -> 9", "3 clicks stiffer"),
        (STIFF, 6, 9, "turn 12 -> 9", "3 clicks stiffer"),
        (STIFF, 6, 5, "turn 12 -> 13", "1 click softer"),
        (SOFT, 6, 6, "stay at 6", ""),
        (SOFT, None, 6, "set to 6", ""),
        (SOFT, 6, None, "stay at 6", ""),
        (SOFT, None, None, "leave the knob", ""),
    ],
)
def test_turn_words(axle, now, following, words, way):
    change = Change(now=now, next=following)
    assert (turn_words(axle, change), direction_words(change)) == (words, way)


def test_knob_words_name_sides_where_they_differ():
    run = dataclasses.replace(examples.runs()[0], clicks={"fl": 6, "fr": 5, "rl": 4})
    assert knob_words(SOFT, run, CORNERS_OF_AXLE["front"]) == "left 6, right 5 clicks"
    assert knob_words(SOFT, run, CORNERS_OF_AXLE["rear"]) == "left 4, right unknown clicks"


def test_knob_words_of_double_knobs():
    run = dataclasses.replace(
        examples.runs()[0],
        clicks={},
        bump_clicks={"fl": 3, "fr": 3},
        rebound_clicks={"fl": 8, "fr": 8},
    )
    words = knob_words(SOFT, run, CORNERS_OF_AXLE["front"])
    assert words == "bump 3 clicks; rebound 8 clicks"


def test_counting_words():
    assert counting_words(STIFF) == "clicks count from full stiff"
