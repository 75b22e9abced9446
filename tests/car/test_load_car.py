"""A car file becomes a car in SI."""

from __future__ import annotations

import json

import pytest

from ridelog.car.description import Tolerances
from ridelog.car.load import load_car
from ridelog.car.schema import car_json_schema


def test_the_contracts_example(write):
    car = load_car(write())
    assert car.name == "Saturday wagon"
    assert car.wheelbase_m == pytest.approx(2.794, rel=1e-15)
    front = car.front
    # 450 lbf/in = 450 x 175.126 835 N/m; 230 N/mm = 230 000 N/m (NIST SP 811 (2008), B.8).
    assert front.spring_rate_n_per_m == pytest.approx(78807.0759, abs=1e-3)
    assert front.tyre_rate_n_per_m == pytest.approx(230e3)
    assert (front.track_m, front.bump_gap_m, front.droop_gap_m) == pytest.approx(
        (1.52, 0.042, 0.055)
    )
    assert (front.sprung_mass_kg, front.unsprung_mass_kg) == (780, 86)
    assert (front.motion_ratio, front.clicks, front.clicks_from) == (0.61, 18, "soft")
    assert front.target_body_frequency_hz == 1.3
    assert front.target_damping_ratio == 0.35
    assert car.tolerances == Tolerances()


def test_trade_units_of_the_rear_axle(write):
    rear = load_car(write()).rear
    # 60 in, 1300 lb, and 25 kg/mm read as kgf/mm: NIST SP 811 (2008), B.8, all exact.
    assert rear.track_m == pytest.approx(1.524, rel=1e-15)
    assert rear.sprung_mass_kg == pytest.approx(589.670081, rel=1e-12)
    assert rear.spring_rate_n_per_m == pytest.approx(245166.25, rel=1e-15)
    assert (rear.layout, rear.damper_spacing_m) == ("solid", 1.05)
    assert (rear.tyre_rate_n_per_m, rear.bump_gap_m, rear.clicks) == (None, None, None)


@pytest.mark.parametrize(
    "place",
    [
        ('name = "Saturday wagon"', 'name = "Saturday wagon"\nclicks_from = "stiff"'),
        ("[car]", 'clicks_from = "stiff"\n[car]'),
    ],
    ids=["in-car", "at-the-top"],
)
def test_clicks_may_count_from_stiff_for_the_whole_car(write, place):
    car = load_car(write(place))
    assert (car.front.clicks_from, car.rear.clicks_from) == ("stiff", "stiff")


def test_an_axle_may_count_its_own_way(write):
    car = load_car(write(("clicks = 18", 'clicks = 18\nclicks_from = "stiff"')))
    assert (car.front.clicks_from, car.rear.clicks_from) == ("stiff", "soft")


def test_separate_knobs_own_springs_and_perches(write):
    car = load_car(
        write(
            (
                "clicks = 18",
                "bump_clicks = 12\nrebound_clicks = 20\nperch_thread_pitch = '1.5 mm'\n"
                "available_spring_rates = ['500 lb/in', '400 lbf/in']",
            )
        )
    )
    assert (car.front.clicks, car.front.bump_clicks, car.front.rebound_clicks) == (None, 12, 20)
    assert car.front.perch_thread_pitch_m == pytest.approx(0.0015)
    assert car.front.available_spring_rates_n_per_m == pytest.approx(
        (400 * 175.126835, 500 * 175.126835), rel=1e-8
    )


def test_a_highest_click_of_zero_is_no_knob(write):
    assert load_car(write(("clicks = 18", "clicks = 0"))).front.clicks is None


def test_stated_tolerances_replace_the_usual_ones(write):
    more = '[tolerances]\nsprung_mass = "2 %"\nmotion_ratio = 0.01\nchannel_delay = "1 ms"\n'
    more += 'clock_rate = "0.1 %"\n'
    tolerances = load_car(write(more=more)).tolerances
    assert tolerances == Tolerances(
        sprung_mass=0.02, motion_ratio=0.01, channel_delay_s=0.001, clock_rate=0.001
    )


def test_the_logger_section(write):
    logger = load_car(
        write(
            more="""
[logger]
time = { column = "tick", unit = "samples" }
sample_rate = "0.5 kHz"
[logger.channels]
travel_fl = { column = "A0", unit = "V", points = [["4410 mV", "61 mm"], ["0.52 V", "-48 mm"]] }
travel_rl = { column = 4, points = [[100, "-2 in"], [900, "2 in"]], delay = "1.5 ms" }
body_fl = { column = "az1", unit = "g", sign = -1, scale = 0.0039, offset = 0.02 }
[logger.channels.speed]
file = "{stem}_gps.csv"
column = "v"
unit = "km/h"
valid_range = ["0 m/s", "180 km/h"]
valid_from = "45 s"
time = { column = "t", unit = "ms" }
"""
        )
    ).logger
    assert (logger.time_column, logger.time_unit, logger.sample_rate_hz) == ("tick", "samples", 500)
    points = [value for pair in logger.channels["travel_fl"].points for value in pair]
    assert points == pytest.approx([0.52, -0.048, 4.41, 0.061], rel=1e-12)
    assert logger.channels["travel_rl"].column == "4"
    assert logger.channels["travel_rl"].points == ((100, -0.0508), (900, 0.0508))
    assert logger.channels["travel_rl"].delay_s == pytest.approx(0.0015)
    body = logger.channels["body_fl"]
    assert (body.unit, body.sign, body.scale, body.offset) == ("g", -1, 0.0039, 0.02)
    speed = logger.channels["speed"]
    assert (speed.file, speed.time_column, speed.time_unit) == ("{stem}_gps.csv", "t", "ms")
    assert (speed.valid_min, speed.valid_max, speed.valid_from_s) == (0, 50, 45)


def test_windows_line_ends_and_byte_order_mark(write):
    path = write()
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert load_car(path).name == "Saturday wagon"


def test_the_json_schema_knows_every_key_and_is_plain_json():
    schema = json.loads(json.dumps(car_json_schema()))
    axle = schema["$defs"]["AxleSection"]
    assert set(schema["properties"]) >= {"car", "front", "rear", "logger", "tolerances"}
    assert axle["properties"]["spring_rate"]["examples"] == ["450 lbf/in"]
    assert axle["properties"]["layout"]["enum"] == ["independent", "solid"]
    assert set(axle["required"]) == {
        "layout",
        "track",
        "sprung_mass",
        "unsprung_mass",
        "spring_rate",
        "motion_ratio",
    }
    assert axle["additionalProperties"] is False
