"""From a column's readings to SI: sign, scale and offset, calibration points, valid ranges."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.car.description import ChannelMapping, Logger


def one(read, channel: str, mapping: ChannelMapping, readings) -> np.ndarray:
    rows = "".join(f"{0.002 * i:.3f},{reading}\n" for i, reading in enumerate(readings))
    raw = read("time_s,A0\n" + rows, Logger(channels={channel: mapping}))
    return raw.channels[channel]


def test_points_as_in_the_contracts_example(read):
    # 0.52 V is -48 mm, 4.41 V is +61 mm: 109 mm over 3.89 V, so 2.465 V half-way is +6.5 mm.
    mapping = ChannelMapping(column="A0", unit="V", points=((0.52, -0.048), (4.41, 0.061)))
    travel_m = one(read, "travel_fl", mapping, [0.52, 4.41, 2.465])
    np.testing.assert_allclose(travel_m, [-0.048, 0.061, 0.0065], atol=1e-12)


def test_between_points_the_line_is_straight_and_past_the_ends_it_goes_on(read):
    # Three points, slopes 10 mm/V then 20 mm/V; readings in and beyond both pieces, by hand.
    mapping = ChannelMapping(
        column="A0", unit="V", points=((1.0, -0.010), (2.0, 0.0), (4.0, 0.040))
    )
    travel_m = one(read, "travel_fl", mapping, [0.0, 1.5, 2.0, 3.0, 5.0])
    np.testing.assert_allclose(travel_m, [-0.020, -0.005, 0.0, 0.020, 0.060], atol=1e-12)


def test_points_of_a_sensor_that_falls_in_bump(read):
    mapping = ChannelMapping(column="A0", unit="V", points=((1.0, 0.030), (4.0, -0.030)))
    np.testing.assert_allclose(
        one(read, "travel_rl", mapping, [2.5, 1.0]), [0.0, 0.030], atol=1e-15
    )


def test_missing_readings_stay_missing_through_points(read):
    mapping = ChannelMapping(column="A0", unit="V", points=((1.0, 0.030), (4.0, -0.030)))
    assert np.isnan(one(read, "travel_rl", mapping, [2.5, "", 1.0])).tolist() == [
        False,
        True,
        False,
    ]


def test_counts_with_scale_and_offset(read):
    # A 10-bit count over 200 mm, zero in the middle: 0.1953125 mm a count, 512 counts at zero.
    mapping = ChannelMapping(column="A0", unit="mm", scale=200 / 1024, offset=-100.0)
    travel_m = one(read, "travel_fl", mapping, [0, 512, 1023])
    np.testing.assert_allclose(travel_m, [-0.1, 0.0, 0.0998046875], atol=1e-15)


def test_a_sensor_mounted_upside_down(read):
    mapping = ChannelMapping(column="A0", unit="g", sign=-1)
    # -1 g read by a sensor on its head is +9.80665 m/s2 (NIST SP 811 (2008), B.8).
    np.testing.assert_allclose(one(read, "body_fl", mapping, [-1.0, 0.5]), [9.80665, -4.903325])


def test_the_sign_turns_the_offset_too(read):
    mapping = ChannelMapping(column="A0", unit="mm", sign=-1, scale=2.0, offset=3.0)
    np.testing.assert_allclose(one(read, "travel_fr", mapping, [1.0, -4.0]), [-0.005, 0.005])


@pytest.mark.parametrize(
    ("unit", "metres"), [("mm", 0.001), ("in", 0.0254), ("cm", 0.01), ("m", 1.0)]
)
def test_travel_units(unit, metres, read):
    travel_m = one(read, "travel_fl", ChannelMapping(column="A0", unit=unit), [2.0, -1.0])
    np.testing.assert_allclose(travel_m, [2 * metres, -metres], rtol=1e-15)


def test_readings_outside_the_valid_range_are_dropped(read):
    mapping = ChannelMapping(column="A0", unit="m/s", valid_min=0.0, valid_max=80.0)
    speed = one(read, "speed", mapping, [-1, 0, 15.5, 300])
    np.testing.assert_array_equal(speed, [np.nan, 0, 15.5, np.nan])


def test_readings_before_the_channel_counts_are_dropped(read):
    mapping = ChannelMapping(column="A0", unit="m/s", valid_from_s=0.004)
    np.testing.assert_array_equal(one(read, "speed", mapping, [9, 9, 3]), [np.nan, np.nan, 3])


def test_one_column_may_feed_two_channels(read):
    logger = Logger(
        channels={
            "cabin": ChannelMapping(column="A0", unit="g"),
            "seat": ChannelMapping(column="A0", unit="g", sign=-1),
        }
    )
    raw = read("time_s,A0\n0,1\n0.002,2\n", logger)
    np.testing.assert_allclose(raw.channels["cabin"], [9.80665, 19.6133])
    np.testing.assert_allclose(raw.channels["seat"], [-9.80665, -19.6133])


def test_a_known_delay_is_handed_on_not_applied(read):
    logger = Logger(channels={"body_fl": ChannelMapping(column="A0", unit="g", delay_s=0.0015)})
    raw = read("time_s,A0\n0,1\n0.002,2\n", logger)
    assert raw.delays_s == {"body_fl": 0.0015}
    np.testing.assert_allclose(raw.channels["body_fl"], [9.80665, 19.6133])
