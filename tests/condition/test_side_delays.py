"""Delays between left and right travel: known ones come back, tired dampers raise nothing."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from ridelog.condition.side_delays import check_side_delays
from ridelog.condition.signals import Signals
from ridelog.recording import TRAVEL_CHANNELS

RATE_HZ = 500.0
COUNT = 60 * 500


def band(values, low_hz, high_hz):
    sections = signal.butter(2, [low_hz, high_hz], "bandpass", fs=RATE_HZ, output="sos")
    return signal.sosfilt(sections, values)


def log(change=lambda name, values: values, tramp=0.0) -> Signals:
    """Both wheels share a road; each has its own share, and the axle may tramp near 11 Hz."""
    random = np.random.default_rng(211)
    channels = {}
    for left, right in (TRAVEL_CHANNELS[:2], TRAVEL_CHANNELS[2:]):
        shared = band(random.normal(size=COUNT), 0.5, 20.0)
        rolling = tramp * band(random.normal(size=COUNT), 9.0, 13.0)
        for name, side in ((left, 1), (right, -1)):
            own = 0.5 * band(random.normal(size=COUNT), 0.5, 20.0)
            channels[name] = 0.01 * change(name, shared + own + side * rolling)
    return Signals(
        sample_rate_hz=RATE_HZ,
        channels=channels,
        doubtful={},
        missing=np.zeros(COUNT, dtype=bool),
    )


def late(which, samples):
    return lambda name, values: np.roll(values, samples) if name == which else values


@pytest.mark.parametrize("tramp", [0.0, 3.0])
@pytest.mark.parametrize("name", TRAVEL_CHANNELS)
def test_a_late_sensor_is_named_and_moved(name, tramp):
    sound, delayed = log(tramp=tramp), log(late(name, 6), tramp)
    checked = check_side_delays(delayed, TRAVEL_CHANNELS)
    assert [(p.code, p.channel, p.mended) for p in checked.problems] == [("late", name, True)]
    (problem,) = checked.problems
    assert any(f"by {amount} ms" in problem.text for amount in (11, 12, 13)), problem.text
    assert "runs ahead" in problem.text
    inner = slice(500, -500)
    before = np.std((delayed.channels[name] - sound.channels[name])[inner])
    after = np.std((checked.signals.channels[name] - sound.channels[name])[inner])
    assert after < 0.3 * before


@pytest.mark.parametrize("tramp", [0.0, 3.0])
@pytest.mark.parametrize("samples", [0, 2, -2])
def test_sound_sensors_and_small_delays_raise_nothing(samples, tramp):
    checked = check_side_delays(log(late("travel_rl", samples), tramp), TRAVEL_CHANNELS)
    assert checked.problems == ()


def test_a_lag_at_low_frequencies_alone_is_a_damper_and_no_sensor():
    sections = signal.butter(1, 2.0, "lowpass", fs=RATE_HZ, output="sos")

    def tired(name, values):
        slow = signal.sosfilt(sections, values)
        return values + 0.5 * slow if name == "travel_fl" else values

    assert check_side_delays(log(tired), TRAVEL_CHANNELS).problems == ()


def test_unrelated_sides_tell_nothing():
    random = np.random.default_rng(7)
    noise = {name: 0.01 * random.normal(size=COUNT) for name in TRAVEL_CHANNELS}
    signals = Signals(
        sample_rate_hz=RATE_HZ, channels=noise, doubtful={}, missing=np.zeros(COUNT, dtype=bool)
    )
    assert check_side_delays(signals, TRAVEL_CHANNELS).problems == ()
