"""Segments and log kinds on rides made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.condition.segments import find_segments, log_kind
from ridelog.recording import Recording, Source

RATE_HZ = 200.0
TIME_S = np.arange(int(60 * RATE_HZ)) / RATE_HZ


def recording(**channels: np.ndarray) -> Recording:
    count = len(next(iter(channels.values())))
    return Recording(
        sample_rate_hz=RATE_HZ,
        channels=channels,
        valid=np.ones(count, dtype=bool),
        source=Source(file="made.csv", layout="made"),
    )


def road_noise(seed: int, size: float = 1.0) -> np.ndarray:
    """Body acceleration on a road: a bounce near 1.4 Hz and wheel hop near 12 Hz."""
    rng = np.random.default_rng(seed)
    white = rng.standard_normal((2, len(TIME_S)))
    shaped = np.zeros(len(TIME_S))
    for row, (frequency_hz, level) in enumerate(((1.4, 1.0), (12.0, 0.8))):
        lines = np.fft.rfft(white[row])
        f = np.fft.rfftfreq(len(TIME_S), 1 / RATE_HZ)
        lines /= 1 - (f / frequency_hz) ** 2 + 0.6j * f / frequency_hz
        wave = np.fft.irfft(lines, len(TIME_S))
        shaped += level * wave / wave.std()
    return size * shaped


def decays(pushes_s: tuple[float, ...], seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    total = 0.02 * rng.standard_normal(len(TIME_S))
    for push_s in pushes_s:
        since = np.maximum(TIME_S - push_s, 0.0)
        ring = 2.5 * np.exp(-2.6 * since) * np.cos(2 * np.pi * 1.4 * since) * (since > 0)
        hands_off = np.ones(16) / 16  # hands let go in 80 ms
        total += np.convolve(ring, hands_off)[: len(ring)]
    return total


def test_standing_is_told_by_speed():
    speed = np.where((TIME_S > 5) & (TIME_S < 50), 12.0, 0.0)
    found = find_segments(recording(body_fl=road_noise(1), speed=speed))
    assert found.standing_s == pytest.approx(np.array([[0.0, 4.75], [50.25, 60.0]]), abs=0.3)


def test_standing_is_told_by_stillness_where_no_speed_was_logged():
    body = road_noise(2)
    body[TIME_S < 6] *= 0.01
    found = find_segments(recording(body_fl=body, travel_fl=0.01 * body))
    assert len(found.standing_s) == 1
    assert found.standing_s[0] == pytest.approx([0.0, 5.75], abs=0.6)


def test_a_smooth_road_is_not_taken_for_standing():
    found = find_segments(recording(travel_fl=0.0015 * road_noise(3)))
    assert len(found.standing_s) == 0


def test_braking_shows_in_the_rate_of_speed_and_leaves_the_rest_steady():
    speed = np.interp(TIME_S, [0, 20, 24, 60], [20.0, 20.0, 8.0, 8.0])
    found = find_segments(recording(body_fl=road_noise(4), speed=speed))
    assert len(found.manoeuvres_s) == 1
    assert found.manoeuvres_s[0] == pytest.approx([20.0, 24.0], abs=1.0)
    assert len(found.steady_s) == 2


def test_cornering_shows_in_lateral_acceleration():
    lateral = np.where((TIME_S > 30) & (TIME_S < 36), 3.0, 0.0)
    found = find_segments(recording(body_fl=road_noise(5), body_lat=lateral))
    assert found.manoeuvres_s[0] == pytest.approx([30.0, 36.0], abs=0.7)


def test_single_bumps_are_found_and_nothing_else():
    body = road_noise(6, 0.4)
    for bump_s in (12.0, 41.0):
        body += 9.0 * np.exp(-(((TIME_S - bump_s) / 0.03) ** 2))
    found = find_segments(recording(body_fl=body))
    assert found.bumps_s.mean(axis=1) == pytest.approx([12.0, 41.0], abs=0.2)


def test_a_pushed_car_is_a_bounce_and_a_driven_one_a_drive():
    pushed = recording(
        body_fl=decays((4, 13, 22, 31, 40, 50), 7), body_rl=decays((4, 13, 22, 31, 40, 50), 8)
    )
    assert log_kind(pushed) == "bounce"
    assert log_kind(recording(cabin=road_noise(9))) == "drive"
    assert log_kind(recording(travel_fl=0.01 * road_noise(10))) == "drive"


def test_speed_settles_the_kind():
    still = np.zeros(len(TIME_S))
    pushed = decays((4, 20, 40), 11)
    assert log_kind(recording(cabin=pushed, speed=still + 15.0)) == "drive"
    assert log_kind(recording(cabin=road_noise(12), speed=still)) == "bounce"
