"""Rounding against the rule of the particle physicists' review, whose own examples these are."""

import pytest

from ridelog.estimate.result import Estimate
from ridelog.report.numbers import (
    decimals_for,
    estimate_words,
    interval_words,
    number,
    plain,
    plus_minus_words,
    value_words,
)

# Particle Data Group, Review of Particle Physics, introduction, section 5.3: the three examples
# given there, from memory.
REVIEW_EXAMPLES = (
    (0.827, 0.119, "0.83", "0.12"),
    (0.827, 0.367, "0.8", "0.4"),
    (14.674, 0.964, "14.7", "1.0"),
)


@pytest.mark.parametrize(("value", "error", "value_text", "error_text"), REVIEW_EXAMPLES)
def test_rounds_like_the_review(value, error, value_text, error_text):
    decimals = decimals_for(error)
    assert (number(value, decimals), number(error, decimals)) == (value_text, error_text)


@pytest.mark.parametrize(
    ("half_width", "decimals"),
    # Worked out by hand at the rule's edges: 100, 354, 355, 949 and 950, across decades.
    [(1.0, 1), (3.54, 1), (3.55, 0), (9.49, 0), (9.5, 0), (354.0, -1), (400.0, -2), (0.0036, 3)],
)
def test_decimals_at_the_edges(half_width, decimals):
    assert decimals_for(half_width) == decimals


def test_large_numbers_are_rounded_to_tens():
    rate = Estimate(value=29437.0, low=29177.0, high=29697.0)
    assert value_words(rate) == "29440"
    assert interval_words(rate) == "29180 to 29700"


def test_scale_and_unit():
    rate = Estimate(value=29437.0, low=29177.0, high=29697.0)
    assert estimate_words(rate, "N/mm", 0.001) == "29.44 N/mm (29.18 to 29.70)"


def test_unknown_is_said():
    assert value_words(None, "Hz") == "not known"
    assert estimate_words(None) == "not known"
    assert interval_words(None) == ""
    assert plus_minus_words(None) == ""


def test_interval_without_width_keeps_three_decimals():
    assert value_words(Estimate(value=0.35, low=0.35, high=0.35)) == "0.350"


def test_no_negative_zero():
    assert number(-0.0004, 2) == "0.00"


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.35, "0.35"), (1.3, "1.3"), (0.0, "0"), (12345.6, "12346"), (7.304, "7.3")],
)
def test_plain(value, text):
    assert plain(value) == text


def test_plus_minus_shares_its_decimals():
    assert plus_minus_words(Estimate(value=-333.4, low=-347.1, high=-319.7)) == "-333 +-14"
