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
        ("cabin", "speed"),
    ],
)
def test_sets_that_check_each_other_need_no_word(channels):
    assert unchecked(channels) == ()


def test_travel_alone_is_compared_left_against_right():
    said, exchanged = unchecked((*TRAVEL_CHANNELS, "speed"))
    assert said.startswith("gain and delay of travel_fl, travel_fr, travel_rl, travel_rr cannot")
    assert said.endswith("only left against right of an axle, not which of the two")
    assert exchanged == "left and right exchanged on one axle look alike on both: check both then"


def test_four_body_sensors_alone_do_not_tell_the_axle_of_an_exchange():
    (said,) = unchecked(BODY_CHANNELS)
    assert said == "left and right exchanged on one axle look alike on both: check both then"


def test_one_body_sensor_over_each_axle_is_not_checked():
    (said,) = unchecked(("body_fl", "body_rl"))
    assert said == "gain and delay of body_fl, body_rl cannot be checked with these sensors"
