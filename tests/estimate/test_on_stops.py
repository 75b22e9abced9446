"""A car that lives on its stops: no number that the stops made up, and no loss for the others."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ridelog.condition.prepare import prepare
from ridelog.errors import NotEnoughDataError
from ridelog.estimate.balance.drive_balance import drive_balance
from ridelog.estimate.drive import estimate_log
from ridelog.estimate.on_stops import MOST_CONTACTS_PER_MINUTE, contacts_per_minute, reason_on_stops
from ridelog.estimate.result import Contact, CornerResult, StopContacts, TravelUse
from ridelog.recording import AXLES, CORNERS, Step
from ridelog.simulate.fleet import fleet_scenes
from ridelog.simulate.log import STEP_S, simulate_logs


def without(recording, kinds):
    kept = {n: c for n, c in recording.channels.items() if not n.startswith(kinds)}
    return recording.with_channels(kept, Step(name="sensors taken out"))


def with_gaps(car, gap_m, name="stops"):
    """A true car, or a car file's, with other gaps."""

    def nearer(axle):
        if name == "stops":
            stops = replace(axle.stops, bump_gap_m=gap_m, droop_gap_m=2 * gap_m)
            return replace(axle, stops=stops)
        return replace(axle, bump_gap_m=gap_m, droop_gap_m=gap_m)

    return replace(car, front=nearer(car.front), rear=nearer(car.rear))


@pytest.fixture(scope="module")
def drives():
    """One car on one rough road, with stops far away and 8 mm away."""
    (scene,) = fleet_scenes("nonlinear", seed=615, count=1, duration_s=40.0)
    near = replace(scene, car=with_gaps(scene.car, 0.008))
    logs = simulate_logs((scene, near), step_s=STEP_S)
    return [(prepare(log.recording(), log.car).recording, log.car) for log in logs]


def corner(contacts, travel=None):
    return CornerResult(
        bump_stop=StopContacts(gap_mm=None, contacts=contacts), top_out=None, travel_mm=travel
    )


def jolt(start_s, probability):
    return Contact(start_s=start_s, end_s=start_s, depth_mm=None, probability=probability)


def test_the_rate_is_the_sum_of_probabilities_over_the_minutes_for_four_corners():
    corners = {"fl": corner((jolt(1.0, 0.5), jolt(2.0, 0.7))), "rl": corner((jolt(1.2, 0.8),))}
    assert contacts_per_minute(corners, 30.0) == pytest.approx(2 * (0.5 + 0.7 + 0.8) * 2)


def test_contacts_seen_by_travel_are_kept_out_by_travel_and_count_for_nothing():
    travel = TravelUse(min=-10, max=40, p01=-8, p99=30, rms=5)
    seen = tuple(replace(jolt(0.1 * n, 1.0), depth_mm=3.0) for n in range(100))
    assert contacts_per_minute({c: corner(seen, travel) for c in CORNERS}, 10.0) == 0.0
    assert contacts_per_minute({}, 10.0) == 0.0


def test_the_reason_names_the_rate_and_a_remedy():
    often = {"fl": corner(tuple(jolt(0.1 * n, 0.9) for n in range(30)))}
    reason = reason_on_stops(often, 60.0)
    assert MOST_CONTACTS_PER_MINUTE < 4 * 27
    assert "about 108 times a minute" in reason
    assert "fit travel sensors" in reason
    assert reason_on_stops(often, 120.0) is None


@pytest.mark.parametrize("kinds", [("travel",), ("travel", "hub")], ids=["hubs", "body"])
def test_a_car_on_its_stops_gets_a_reason_instead_of_springs(drives, kinds):
    recording, car = drives[1]
    result = estimate_log(without(recording, kinds), car)
    assert any("times a minute" in note for note in result.notes)
    for name in AXLES:
        assert result.axles[name].body_frequency_hz is None
        assert result.axles[name].damping_ratio is None
    assert all(each.damping_ratio is None for each in result.corners.values())
    assert result.whole_car.bounce_frequency_hz is None
    assert sum(len(each.bump_stop.contacts) for each in result.corners.values()) > 40


def test_with_travel_the_contacts_are_kept_out_and_springs_are_told(drives):
    recording, car = drives[1]
    result = estimate_log(recording, car)
    assert not any("times a minute" in note for note in result.notes)
    assert all(result.axles[name].body_frequency_hz is not None for name in AXLES)


def test_a_car_that_hardly_hits_them_keeps_its_springs(drives):
    recording, car = drives[0]
    result = estimate_log(without(recording, ("travel",)), car)
    assert not any("times a minute" in note for note in result.notes)
    assert all(result.axles[name].body_frequency_hz is not None for name in AXLES)


def test_a_drive_never_clear_of_its_stops_is_refused_in_words(drives):
    recording, car = drives[0]
    always = with_gaps(car, 0.001, name="car file")
    with pytest.raises(NotEnoughDataError, match="clear of the stops"):
        drive_balance(without(recording, ("travel",)), always)
