"""Delays that the car file states are undone before the sensors are compared."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.car.description import Axle, Car
from ridelog.condition.prepare import prepare
from ridelog.errors import SignalError
from ridelog.recording import RawRecording, Source

RATE_HZ = 500.0
LATE_S = 0.0137
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


def shaking(time_s: np.ndarray) -> np.ndarray:
    """Tones far below half the sample rate, none of them a neat fraction of it."""
    tones = ((0.9, 1.31, 0.2), (0.6, 4.73, 1.1), (0.4, 11.9, 2.0))
    return sum(size * np.sin(2 * np.pi * hz * time_s + phase) for size, hz, phase in tones)


def late_log(delay_s: float = LATE_S) -> RawRecording:
    time_s = np.arange(int(20 * RATE_HZ)) / RATE_HZ
    rng = np.random.default_rng(5)
    noise = 0.01 * rng.standard_normal((2, len(time_s)))
    return RawRecording(
        time_s=time_s,
        channels={
            "body_fl": G + shaking(time_s - LATE_S) + noise[0],
            "body_rl": G + shaking(time_s + 1.0) + noise[1],
        },
        source=Source(file="made.csv", layout="made"),
        delays_s={"body_fl": delay_s},
    )


def test_a_stated_delay_is_undone(car):
    prepared = prepare(late_log(), car)
    recording = prepared.recording
    expected = shaking(recording.time_s)
    inner = slice(500, -500)
    found = recording.channels["body_fl"]
    np.testing.assert_allclose(found[inner], expected[inner] - expected.mean(), atol=0.06)
    assert "body_fl moved 13.7 ms earlier, by its stated delay" in prepared.notes


def test_the_end_that_was_made_up_is_not_valid(car):
    valid = prepare(late_log(), car).recording.valid
    assert not valid[-7:].any()
    assert valid[:-7].all()
    valid = prepare(late_log(-LATE_S), car).recording.valid
    assert not valid[:7].any()
    assert valid[7:].all()


def test_a_spike_is_mended_before_the_shift(car):
    raw = late_log()
    spiky = raw.channels["body_fl"].copy()
    spiky[4000] += 60.0
    raw = replace(raw, channels={**raw.channels, "body_fl": spiky})
    prepared = prepare(raw, car)
    expected = shaking(prepared.recording.time_s)
    around = slice(3900, 4100)
    found = prepared.recording.channels["body_fl"]
    np.testing.assert_allclose(found[around], expected[around] - expected.mean(), atol=0.15)


def test_a_delay_as_long_as_the_log_is_refused(car):
    with pytest.raises(SignalError, match=r"body_fl: the delay of 30 s \(.*is longer than the log"):
        prepare(late_log(30.0), car)
