"""Stop contacts in travel whose contacts are known."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.estimate.contacts import find_contacts, travel_noise
from ridelog.recording import FloatArray

RATE_HZ = 500.0
GAP = 0.042


def hits(depths_mm: list[float], length_s: float = 0.05) -> tuple[FloatArray, list[float]]:
    """Travel that swings about, with half-sine pushes past the gap once a second from 1 s on."""
    time = np.arange(int((len(depths_mm) + 2) * RATE_HZ)) / RATE_HZ
    travel = 0.01 * np.sin(2 * np.pi * 1.3 * time)
    starts = []
    for number, depth_mm in enumerate(depths_mm, start=1):
        centre = number + 0.25
        # a parabola that is at the gap half a length before and after its top
        past = depth_mm / 1e3 * (1 - ((time - centre) / (length_s / 2)) ** 2)
        travel = np.maximum(travel, GAP + past)
        starts.append(centre - length_s / 2)
    return travel, starts


def test_start_end_and_depth_between_the_samples():
    travel, starts = hits([8.0, 3.0])
    found = find_contacts(travel, RATE_HZ, GAP, stop="bump")
    assert len(found) == 2
    assert [contact.start_s for contact in found] == pytest.approx(starts, abs=0.0004)
    assert [contact.end_s - contact.start_s for contact in found] == pytest.approx(
        [0.05, 0.05], abs=0.0008
    )
    assert [contact.depth_mm for contact in found] == pytest.approx([8.0, 3.0], abs=0.05)
    assert all(contact.probability == 1.0 for contact in found)


def test_droop_stop_is_the_same_the_other_way_round():
    travel, _ = hits([8.0, 3.0])
    bump = find_contacts(travel, RATE_HZ, GAP, stop="bump")
    droop = find_contacts(-travel, RATE_HZ, GAP, stop="droop")
    assert droop == bump
    assert find_contacts(travel, RATE_HZ, GAP, stop="droop") == ()


def test_a_coarse_noisy_sensor_finds_every_contact_deeper_than_half_a_millimetre():
    rng = np.random.default_rng(7)
    depths_mm = list(rng.uniform(0.6, 20.0, size=150))
    travel, starts = hits(depths_mm)
    step = 0.2 / 1024  # 10 bit over 200 mm
    logged = np.round((travel + rng.normal(scale=0.2e-3, size=len(travel))) / step) * step
    found = find_contacts(logged, RATE_HZ, GAP, stop="bump")
    told = np.array([contact.start_s for contact in found])
    matched = [np.min(np.abs(told - start)) < 0.015 for start in starts]
    assert np.mean(matched) >= 0.97
    assert len(found) <= len(depths_mm) / 0.97
    depth_error = [contact.depth_mm - depths_mm[round(contact.start_s) - 1] for contact in found]
    assert np.abs(np.median(depth_error)) < 0.15
    assert np.percentile(np.abs(depth_error), 95) < 0.5


def test_a_touch_within_the_sensors_steps_is_no_contact():
    travel, _ = hits([0.2])
    assert find_contacts(travel, RATE_HZ, GAP, stop="bump") == ()


def test_chatter_within_one_hit_is_one_contact_and_two_hits_are_two():
    time = np.arange(1000) / RATE_HZ
    push = 0.052 * np.exp(-(((time - 1.0) / 0.03) ** 2))
    chatter = push - 0.012 * np.exp(-(((time - 1.0) / 0.006) ** 2))
    assert len(find_contacts(chatter, RATE_HZ, GAP, stop="bump")) == 1
    apart = np.maximum(push, np.roll(push, 60))
    assert len(find_contacts(apart, RATE_HZ, GAP, stop="bump")) == 2


def test_contacts_do_not_reach_into_a_hole():
    travel, _ = hits([8.0, 8.0])
    valid = np.ones(len(travel), dtype=bool)
    valid[600:700] = False  # over the first hit at 1.25 s
    found = find_contacts(travel, RATE_HZ, GAP, stop="bump", valid=valid)
    assert [round(contact.start_s) for contact in found] == [2]
    assert find_contacts(travel, RATE_HZ, GAP, stop="bump", valid=np.zeros_like(valid)) == ()


def test_a_very_noisy_sensor_raises_its_own_threshold():
    quiet = np.full(20_000, GAP - 1.5e-3)
    noisy = quiet + np.random.default_rng(3).normal(scale=1e-3, size=len(quiet))
    assert find_contacts(noisy, RATE_HZ, GAP, stop="bump") == ()


def test_noise_of_a_travel_sensor_is_told_through_the_cars_motion():
    time = np.arange(50_000) / RATE_HZ
    motion = 0.03 * np.sin(2 * np.pi * 1.4 * time) + 0.004 * np.sin(2 * np.pi * 12 * time)
    noise = np.random.default_rng(1).normal(scale=0.3e-3, size=len(time))
    assert travel_noise(motion + noise) == pytest.approx(0.3e-3, rel=0.05)
    assert travel_noise(np.zeros(5)) == 0.0
