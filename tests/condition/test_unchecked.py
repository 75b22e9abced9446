"""Which sets of sensors leave gains and delays unchecked, and that this is said."""

from __future__ import annotations

import pytest

from ridelog.condition.unchecked import unchecked
from ridelog.recording import BODY_CHANNELS, HUB_CHANNELS, TRAVEL_CHANNELS


@pytest.mark.parametrize(
    "channels",
    [
        (*TRAVEL_CHANNELS, *BODY_CHANNELS, *HUB_CHANNELS),
        (*TRAVEL_CHANNELS, *BODY_CHANNELS),
        (*BODY_CHANNELS, *HUB_CHANNELS),
        BODY_CHANNELS,
        ("cabin", "speed"),
    ],
)
def test_sets_that_check_each_other_need_no_word(channels):
    assert unchecked(channels) == ()


def test_travel_alone_is_compared_left_against_right():
    (said,) = unchecked((*TRAVEL_CHANNELS, "speed"))
    assert said.startswith("gain and delay of travel_fl, travel_fr, travel_rl, travel_rr cannot")
    assert said.endswith("only left against right of an axle, and that names both")


def test_one_body_sensor_over_each_axle_is_not_checked():
    (said,) = unchecked(("body_fl", "body_rl"))
    assert said == "gain and delay of body_fl, body_rl cannot be checked with these sensors"
