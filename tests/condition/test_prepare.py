"""What leaves the room: gravity gone, gaps marked, samples of a sound log its own."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.car.description import Axle, Car
from ridelog.condition.prepare import prepare
from ridelog.errors import NotEnoughDataError
from ridelog.recording import RawRecording, Source

RATE_HZ = 250.0
G = 9.80665


@pytest.fixture
def car() -> Car:
    axle = Axle(
        layout="independent",
        track_m=1.5,
        sprung_mass_kg=700.0,
        unsprung_mass_kg=90.0,
        spring_rate_n_per_m=40_000.0,
        motion_ratio=0.8,
    )
    return Car(name="test", wheelbase_m=2.7, front=axle, rear=axle)


def log(seed: int = 0, rate_hz: float = RATE_HZ, **channels: np.ndarray) -> RawRecording:
    count = len(next(iter(channels.values()))) if channels else int(30 * rate_hz)
    if not channels:
        rng = np.random.default_rng(seed)
        channels = {
            "body_fl": G + 0.1 + rng.standard_normal(count),
            "body_rl": G - 0.2 + rng.standard_normal(count),
        }
    return RawRecording(
        time_s=3.0 + np.arange(count) / rate_hz,
        channels=channels,
        source=Source(file="made.csv", layout="made"),
    )


def test_gravity_and_offset_are_gone_and_nothing_else_is(car):
    raw = log()
    prepared = prepare(raw, car)
    assert prepared.problems == ()
    values = prepared.recording.channels["body_fl"]
    assert values.mean() == pytest.approx(0.0, abs=1e-12)
    assert np.allclose(np.diff(values), np.diff(raw.channels["body_fl"]), atol=1e-12)
    assert prepared.recording.start_s == 3.0
    assert prepared.recording.sample_rate_hz == pytest.approx(RATE_HZ)


def test_the_log_itself_is_never_written_to(car):
    raw = log()
    raw.channels["body_fl"][[700, 900, 2000]] += 60.0
    before = {name: values.copy() for name, values in raw.channels.items()}
    problems = prepare(raw, car).problems
    assert [problem.code for problem in problems] == ["spikes"]
    assert all(np.array_equal(raw.channels[name], before[name]) for name in before)


def test_a_gap_is_left_out_and_told(car):
    raw = log()
    kept = np.r_[0:2000, 2100 : len(raw.time_s)]
    cut = RawRecording(
        time_s=raw.time_s[kept],
        channels={name: values[kept] for name, values in raw.channels.items()},
        source=raw.source,
    )
    prepared = prepare(cut, car)
    assert [problem.code for problem in prepared.problems] == ["gap"]
    gap = prepared.recording.gaps[0]
    assert (gap.start_s, gap.end_s) == pytest.approx((8.0, 8.4))
    assert np.count_nonzero(~prepared.recording.valid) == 100
    assert prepared.recording.sample_count == len(raw.time_s)


def test_forty_hertz_is_too_slow_and_a_phone_at_a_hundred_is_not(car):
    slow = prepare(log(rate_hz=40.0), car)
    assert [problem.code for problem in slow.problems] == ["slow"]
    assert "40.0 samples per second" in slow.problems[0].text
    assert prepare(log(rate_hz=99.6), car).problems == ()


def test_readings_in_g_under_a_name_in_m_per_s2_are_told_by_gravity(car):
    raw = log()
    channels = {**raw.channels, "body_rl": raw.channels["body_rl"] / G}
    prepared = prepare(log(**channels), car)
    assert [(p.code, p.channel, p.mended) for p in prepared.problems] == [
        ("unit", "body_rl", False)
    ]
    assert "look like g" in prepared.problems[0].text


def test_a_sensor_upside_down_is_turned_over(car):
    raw = log()
    channels = {**raw.channels, "body_fl": -raw.channels["body_fl"]}
    prepared = prepare(log(**channels), car)
    assert [(p.code, p.channel, p.mended) for p in prepared.problems] == [("sign", "body_fl", True)]
    sound = prepare(raw, car).recording.channels["body_fl"]
    assert np.allclose(prepared.recording.channels["body_fl"], sound, atol=1e-9)


def test_a_column_without_readings_is_dropped_and_told(car):
    raw = log()
    channels = {**raw.channels, "hub_fl": np.full(len(raw.time_s), np.nan)}
    prepared = prepare(log(**channels), car)
    assert [(p.code, p.channel) for p in prepared.problems] == [("flat", "hub_fl")]
    assert "hub_fl" not in prepared.recording.channels


def test_a_parked_car_is_not_a_dead_sensor(car):
    rng = np.random.default_rng(3)
    count = int(40 * RATE_HZ)
    travel = {
        name: np.round(0.004 * np.convolve(rng.standard_normal(count), np.ones(40) / 6, "same"), 4)
        for name in ("travel_fl", "travel_fr", "travel_rl", "travel_rr")
    }
    for values in travel.values():
        values[:2500] = 0.0
    assert [p.code for p in prepare(log(**travel), car).problems] == []
    travel["travel_rr"][6000:7000] = travel["travel_rr"][6000]
    found = prepare(log(**travel), car).problems
    assert [(p.code, p.channel) for p in found] == [("flat", "travel_rr")]
    assert found[0].start_s == pytest.approx(24.0, abs=0.01)


def test_a_handful_of_rows_is_refused_in_one_line(car):
    with pytest.raises(NotEnoughDataError, match="the log: needs 16 rows, the log has 9 rows"):
        prepare(log(body_fl=np.full(9, G)), car)
