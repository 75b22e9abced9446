"""Stop contacts, road level and comfort of simulated cars whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.condition.prepare import prepare
from ridelog.estimate.balance.drive_balance import drive_balance
from ridelog.estimate.road_profile import road_of_recording
from ridelog.estimate.stop_contacts import MeasuredGaps, stop_contacts
from ridelog.recording import AXLE_OF_CORNER, CORNERS, Step
from ridelog.simulate.fleet import simulate_fleet

LEAST_DEPTH_MM = 0.5


def overlaps(contact, truth) -> bool:
    start_s, end_s, _ = truth
    return contact.start_s < end_s + 0.01 and contact.end_s > start_s - 0.01


def tally(found, truth) -> np.ndarray:
    """Count true contacts found, true contacts, found that are true, found."""
    deep_truth = [each for each in truth if each[2] > LEAST_DEPTH_MM]
    deep = [c for c in found if c.depth_mm is None or c.depth_mm > LEAST_DEPTH_MM]
    return np.array(
        [
            sum(any(overlaps(c, each) for c in found) for each in deep_truth),
            len(deep_truth),
            sum(any(overlaps(c, each) for each in truth) for c in deep),
            len(deep),
        ]
    )


@pytest.fixture(scope="module")
def rough_drives():
    logs = simulate_fleet("stops", seed=41, count=3, duration_s=50.0)
    return [(prepare(log.recording(), log.car).recording, log.car, log.truth) for log in logs]


@pytest.mark.slow
def test_contacts_by_travel_reach_97_percent(rough_drives):
    total = np.zeros(4)
    for recording, car, truth in rough_drives:
        found = stop_contacts(recording, car)
        for corner in CORNERS:
            total += tally(found[corner].bump.contacts, truth.corners[corner].bump_stop)
            total += tally(found[corner].droop.contacts, truth.corners[corner].top_out)
    assert total[1] > 30
    assert total[0] / total[1] >= 0.97
    assert total[2] / total[3] >= 0.97


@pytest.mark.slow
def test_gaps_that_nobody_states_are_found_and_so_are_the_contacts(rough_drives):
    total, errors, inside = np.zeros(4), [], []
    for recording, car, truth in rough_drives:
        blind = {"bump_gap_m": None, "droop_gap_m": None}
        stated = {"front": car.front, "rear": car.rear}
        open_car = replace(car, **{n: replace(axle, **blind) for n, axle in stated.items()})
        balance = drive_balance(recording, open_car)
        gaps = MeasuredGaps(bump=balance.bump_gap_mm, droop=balance.droop_gap_mm)
        found = stop_contacts(recording, open_car, measured=gaps)
        for corner in CORNERS:
            bump = found[corner].bump
            past = truth.corners[corner].bump_stop
            total += tally(bump.contacts if bump else (), past)
            if bump and sum(each[2] > LEAST_DEPTH_MM for each in past) >= 3:
                true_mm = 1e3 * stated[AXLE_OF_CORNER[corner]].bump_gap_m  # stated to 0.5 mm
                errors.append(bump.gap_mm.value - true_mm)
                inside.append(bump.gap_mm.low - 1 < true_mm < bump.gap_mm.high + 1)
    assert total[0] / total[1] >= 0.93
    assert total[2] / total[3] >= 0.93
    assert len(errors) >= 6
    assert np.median(np.abs(errors)) < 1.5
    assert np.mean(inside) >= 0.9


@pytest.mark.slow
@pytest.mark.parametrize(
    ("taken_out", "least_found", "least_true"),
    [(("travel",), 0.8, 0.85), (("travel", "hub"), 0.75, 0.8)],
)
def test_contacts_without_travel_are_mostly_right(rough_drives, taken_out, least_found, least_true):
    # what the bench finds on twelve cars, less what 3 cars scatter
    total, probability = np.zeros(4), []
    for recording, car, truth in rough_drives:
        channels = {n: c for n, c in recording.channels.items() if not n.startswith(taken_out)}
        blind = recording.with_channels(channels, Step(name="sensors taken out"))
        found = stop_contacts(blind, car)
        for corner in CORNERS:
            contacts = found[corner].bump.contacts
            total += tally(contacts, truth.corners[corner].bump_stop)
            probability += [contact.probability for contact in contacts]
    assert total[0] / total[1] >= least_found
    assert total[2] / total[3] >= least_true
    # The probabilities mean what they say: five standard deviations of some 70 contacts' chance.
    spread = np.sqrt(np.sum(np.multiply(probability, 1 - np.array(probability))))
    assert abs(total[2] - np.sum(probability)) < 5 * spread


@pytest.mark.slow
def test_the_road_is_told_in_spite_of_the_bumps(rough_drives):
    for recording, car, truth in rough_drives:
        found = road_of_recording(recording, car).gd_n0_m3
        assert found.value == pytest.approx(truth.road.gd_n0_m3, rel=0.4)
