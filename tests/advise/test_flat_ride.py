"""Flat ride: the speed at which front and rear end their cycle together."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import StateSpace, lsim

from ridelog.advise.flat_ride import flat_ride, flat_ride_reasons


def pitch_left(front_hz: float, rear_hz: float, lag_s: float, damping: float) -> float:
    """Pitch over bounce at the end of the front's first cycle after a step, by lsim."""
    time = np.linspace(0, 4, 8001)
    ends = []
    for frequency, start in ((front_hz, 0.0), (rear_hz, lag_s)):
        w = 2 * np.pi * frequency
        system = StateSpace([[0, 1], [-(w**2), -2 * damping * w]], [[0], [w**2]], [[1, 0]], [[0]])
        ends.append(lsim(system, (time >= start).astype(float), time)[1] - 1)
    # The front's second upward overshoot is over a cycle after the first.
    period = 1 / front_hz / np.sqrt(1 - damping**2)
    window = (time > period) & (time < 1.5 * period)
    front, rear = (end[window] for end in ends)
    return float(np.sqrt(np.mean((front - rear) ** 2) / np.mean((front + rear) ** 2)))


def test_periods_differ_by_the_lag_at_the_flat_speed() -> None:
    """Undamped 1.0 and 1.2 Hz, 2.7 m: 1 - 1/1.2 = 0.1667 s, 16.2 m/s."""
    pair = flat_ride(1.0, 1.2, 2.7, damping_ratio=0.0)
    assert pair.flat_speed_mps == pytest.approx(16.2)
    # At 27 m/s the lag is 0.1 s: 1 / (1 - 0.1) Hz.
    fast = flat_ride(1.0, 1.2, 2.7, damping_ratio=0.0, speed_mps=27.0)
    assert fast.rear_for_speed_hz == pytest.approx(1 / 0.9)
    assert fast.left_over == 1.0
    assert flat_ride(1.0, 1.2, 2.7, speed_mps=5.0).speed_mps == pytest.approx(80 / 3.6)


@pytest.mark.parametrize("damping", [0.05, 0.2])
def test_pitch_is_least_at_the_flat_speed(damping: float) -> None:
    """Both ends simulated apart after a step: half or double that speed pitches far more."""
    pair = flat_ride(1.1, 1.3, 2.7, damping_ratio=damping)
    assert pair.flat_speed_mps is not None
    flat, slow, fast = (
        pitch_left(1.1, 1.3, 2.7 / (pair.flat_speed_mps * k), damping) for k in (1, 0.5, 2)
    )
    assert flat < 0.55 * min(slow, fast)


def test_thomsons_car_is_a_usual_pair() -> None:
    """W. T. Thomson, Theory of Vibration, sec. 5.3: axle frequencies 1.0513 and 1.2098 Hz."""
    assert flat_ride_reasons(flat_ride(1.0513, 1.2098, 3.05), None) == ()


def test_a_slower_rear_never_catches_up() -> None:
    pair = flat_ride(1.3, 1.1, 2.7)
    assert pair.flat_speed_mps is None
    (words,) = flat_ride_reasons(pair, None)
    assert "15 % below the front's (1.30 and 1.10 Hz)" in words
    assert "never does" in words


def test_stiff_damping_takes_the_reason_away() -> None:
    """One cycle at a damping ratio of 0.5 leaves exp(-2 pi 0.5 / sqrt(0.75)) = 2.7 %."""
    pair = flat_ride(1.3, 1.1, 2.7, damping_ratio=0.5)
    assert pair.left_over == pytest.approx(0.0266, abs=1e-4)
    assert "3 % of the motion is left" in flat_ride_reasons(pair, None)[0]


def test_targets_are_judged_beside_what_was_measured() -> None:
    good, even = flat_ride(1.0, 1.15, 2.7), flat_ride(1.2, 1.2, 2.7)
    assert flat_ride_reasons(good, good) == ()
    (words,) = flat_ride_reasons(good, even)
    assert words.startswith("The rear target is 0 %")
    assert len(flat_ride_reasons(even, even)) == 2
