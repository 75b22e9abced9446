"""Contacts replayed with a wider gap, more damping, stiffer springs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from ridelog.advise.springs import SpringAdvice
from ridelog.advise.stop_remedies import stop_remedies
from ridelog.advise.stop_replay import (
    avoided_by_damping,
    avoided_by_gap,
    avoided_by_spring,
    gap_for_most,
)
from ridelog.advise.stop_words import stop_reasons
from ridelog.advise.stops import StopEvidence, bump_stop_evidence
from ridelog.estimate.result import Contact, CornerResult, StopContacts
from tests.advise import builders

DEPTHS = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 9.0, 14.0)


def test_gap_for_eight_of_ten() -> None:
    """Eight of ten stay within 4 mm, taken 1.2 times as deep."""
    wanted = gap_for_most(DEPTHS)
    assert wanted == pytest.approx(4.8)
    assert avoided_by_gap(DEPTHS, 4.8).avoided_high == 8
    assert avoided_by_gap(DEPTHS, 0.5).avoided_high == 0
    assert gap_for_most(()) is None


def test_travel_falls_with_the_root_of_damping() -> None:
    """Spring travel of one mass under white road slope: the integral of |H|^2 goes with 1 / c."""

    def mean_square(damping: float, stiffness: float) -> float:
        def power(w: float) -> float:
            return float(abs(w / complex(stiffness - w**2, damping * w)) ** 2)

        return quad(power, 0, 400, limit=2000, points=(stiffness**0.5,))[0]

    base = mean_square(4.0, 64.0)
    assert mean_square(4.8, 64.0) == pytest.approx(base / 1.2, rel=1e-2)
    assert mean_square(4.0, 96.0) == pytest.approx(base, rel=1e-2)  # the spring has no say
    found = avoided_by_damping((1.0, 2.0, 4.0, 8.0), 40.0, 1.2)
    # 40 + 1.2 d <= 40 x sqrt(1.2) up to d = 3.18 mm
    assert (found.avoided_low, found.avoided_high) == (2, 2)
    spring = avoided_by_spring((1.0, 2.0, 4.0, 8.0), 40.0, 1.2)
    # Up to d = 6.67 mm, where travel goes with 1 / rate.
    assert (spring.avoided_low, spring.avoided_high, spring.contacts) == (0, 3, 4)


def evidence() -> StopEvidence:
    contacts = tuple(
        Contact(start_s=float(i), end_s=i + 0.03, depth_mm=d, speed_mps=0.1 * i)
        for i, d in enumerate(DEPTHS)
    )
    corner = CornerResult(bump_stop=StopContacts(gap_mm=builders.estimate(45.0), contacts=contacts))
    run = builders.run("a.csv", 6, builders.axle_result(0.3), corners={"fl": corner})
    log = replace(run.analysis.log, mean_speed_mps=20.0)
    found = bump_stop_evidence(builders.axle(), "front", replace(run.analysis, log=log))
    assert found is not None
    return found


def test_how_often_and_how_hard() -> None:
    """Ten contacts in 180 s at 20 m/s, 3.6 km: 3.3 a minute, 2.8 a kilometre."""
    found = evidence()
    assert found.per_minute == pytest.approx(10 / 3)
    assert found.per_km == pytest.approx(10 / 3.6)
    assert found.fastest_mps == pytest.approx(0.9)
    assert found.time_share == pytest.approx(0.3 / 180)
    assert found.travel_share == pytest.approx(45 / 95)


def test_the_words_tell_what_each_remedy_would_have_avoided() -> None:
    axle = builders.axle(perch_thread_pitch_m=0.002)
    close = SpringAdvice(verdict="close", now_n_per_m=57e3, next_n_per_m=57e3)
    remedies = stop_remedies(evidence(), close, None, axle=axle)
    hit, *ranked_lines = stop_reasons(evidence(), remedies)
    assert len(ranked_lines) == 4
    ranked = " ".join(ranked_lines)
    assert "up to 14 mm deep, at up to 0.9 m/s damper speed" in hit
    assert "3.3 a minute, 2.8 a kilometre" in hit
    assert "47 % of the damper's free travel is left for bump" in hit
    # 5 mm at the damper are 7 mm at the wheel at a motion ratio of 0.7, and 2.5 turns of 2 mm.
    raised = "5 mm at the damper, 7 mm at the wheel, 2.5 turns, droop then 45 mm"
    assert f"{raised}: would have avoided 8 of 10" in ranked
    assert "20 % more, bump and rebound, roughly: would have avoided" in ranked


def deepest_m(gap_m: float, heights_m: np.ndarray, lengths_s: np.ndarray) -> np.ndarray:
    """Greatest spring travel of quarter cars that each meet one hump, by classic Runge-Kutta.

    Barton & Fieldhouse's rear corner (Automotive Chassis Engineering, p. 209: 317.5 and 45.4 kg,
    22 and 192 kN/m) with 1.5 kN s/m, and a rubber stop of 40 kN/m + 2e8 N/m3 past the gap.
    """

    def slope(time: float, state: np.ndarray) -> np.ndarray:
        body, body_speed, wheel, wheel_speed = state
        road = heights_m * np.sin(np.pi * np.clip(time / lengths_s, 0, 1)) ** 2
        past = np.maximum(wheel - body - gap_m, 0.0)
        push = 22e3 * (wheel - body) + 1.5e3 * (wheel_speed - body_speed)
        push = push + 40e3 * past + 2e8 * past**3
        tyre = 192e3 * (road - wheel)
        return np.stack([body_speed, push / 317.5, wheel_speed, (tyre - push) / 45.4])

    state, step = np.zeros((4, len(heights_m))), 5e-4
    deepest = np.zeros(len(heights_m))
    for number in range(1000):
        time = number * step
        one = slope(time, state)
        two = slope(time + step / 2, state + step / 2 * one)
        three = slope(time + step / 2, state + step / 2 * two)
        four = slope(time + step, state + step * three)
        state = state + step / 6 * (one + 2 * two + 2 * three + four)
        deepest = np.maximum(deepest, state[2] - state[0])
    return deepest


@pytest.mark.parametrize("wider_mm", [3.0, 6.0, 10.0])
def test_replay_against_the_same_humps_with_wider_gaps(wider_mm: float) -> None:
    """300 humps of 60-150 mm met again with a wider gap: avoided as told, to a tenth of all."""
    rng = np.random.default_rng(260)
    humps = rng.uniform(0.06, 0.15, 300), rng.uniform(0.1, 0.3, 300)
    depths = 1000 * (deepest_m(0.045, *humps) - 0.045)
    hit = depths > 0
    again = 1000 * (deepest_m(0.045 + wider_mm / 1000, *humps) - 0.045) > wider_mm
    assert hit.sum() > 100
    avoided = int(hit.sum() - again.sum())
    assert avoided > 5
    told = avoided_by_gap(tuple(depths[hit]), wider_mm).avoided_high
    assert told == pytest.approx(avoided, abs=0.1 * hit.sum())
