"""Stops at every corner, and bump stops told from the body's jolts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.car.description import Axle, Car
from ridelog.estimate.contact_signature import bump_signatures, touch_point
from ridelog.estimate.hub_travel import travel_of_hubs
from ridelog.estimate.jolt_odds import CONTACT_ODDS, contact_odds
from ridelog.estimate.jolts import HubClues, find_jolts
from ridelog.estimate.result import Estimate
from ridelog.estimate.stop_contacts import MeasuredGaps, stop_contacts
from ridelog.recording import CORNERS, Recording, Source

RATE_HZ = 500.0
TIME = np.arange(int(40 * RATE_HZ)) / RATE_HZ
AXLE = Axle(
    layout="independent",
    track_m=1.5,
    sprung_mass_kg=600.0,
    unsprung_mass_kg=72.0,
    spring_rate_n_per_m=40e3,
    motion_ratio=0.7,
    bump_gap_m=0.042,
    droop_gap_m=0.050,
)
CAR = Car(name="made up", wheelbase_m=2.6, front=AXLE, rear=AXLE)


def recording(channels: dict[str, np.ndarray]) -> Recording:
    return Recording(
        sample_rate_hz=RATE_HZ,
        channels=channels,
        valid=np.ones(len(TIME), dtype=bool),
        source=Source(file="made up", layout="made up"),
    )


def swing(top_mm: float, bottom_mm: float) -> np.ndarray:
    travel = 0.01 * np.sin(2 * np.pi * 1.4 * TIME)
    travel += (top_mm - 5) / 1e3 * np.exp(-(((TIME - 10) / 0.04) ** 2))
    return travel - (bottom_mm - 5) / 1e3 * np.exp(-(((TIME - 20) / 0.04) ** 2))


def body(seed: int, hit_m_per_s2: float = 0.0, at_s: float = 15.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    smooth = np.hanning(31) / np.sqrt(np.sum(np.hanning(31) ** 2))
    road = 0.8 * np.convolve(rng.normal(size=len(TIME)), smooth, mode="same")
    return road + hit_m_per_s2 * np.exp(-(((TIME - at_s) / 0.012) ** 2))


def test_travel_tells_both_stops_of_a_corner():
    found = stop_contacts(recording({"travel_fl": swing(60, 70)}), CAR)
    assert list(found) == ["fl"]
    assert [round(contact.start_s) for contact in found["fl"].bump.contacts] == [10]
    assert [round(contact.start_s) for contact in found["fl"].droop.contacts] == [20]
    assert found["fl"].bump.gap_mm.value == pytest.approx(42.0)
    assert found["fl"].notes == ()


def test_an_unstated_gap_is_said_and_a_measured_one_used():
    axle = replace(AXLE, bump_gap_m=None)
    car = replace(CAR, front=axle)
    log = recording({"travel_fl": swing(60, 30)})
    without = stop_contacts(log, car)["fl"]
    assert without.bump is None
    assert "has no bump_gap" in without.notes[0]
    gap = Estimate(value=40.0, low=38.0, high=42.0)
    measured = stop_contacts(log, car, measured=MeasuredGaps(bump={"fl": gap}))["fl"]
    assert measured.bump.gap_mm == gap
    assert len(measured.bump.contacts) == 1
    assert "found in this log, 40 mm (38 to 42)" in measured.notes[0]


def test_better_known_travel_takes_the_place_of_the_channel():
    log = recording({"travel_fl": swing(20, 20)})
    found = stop_contacts(log, CAR, travel={"fl": swing(60, 20)})
    assert len(found["fl"].bump.contacts) == 1


def test_the_touch_point_is_the_springs_at_the_gap():
    # 42 mm at the damper are 60 mm at the wheel; 40 N/mm at 0.7 are 19.6 N/mm there
    touch = touch_point(AXLE)
    assert touch.acceleration_m_per_s2 == pytest.approx(19.6e3 * 0.060 / 300.0)
    assert touch.frequency_hz == pytest.approx(np.sqrt(19.6e3 / 300.0) / (2 * np.pi))
    guessed = touch_point(replace(AXLE, bump_gap_m=None))
    assert guessed.acceleration_m_per_s2 == pytest.approx(19.6e3 * (0.040 / 0.7) / 300.0)


def test_a_hard_hit_shows_in_the_body_and_only_at_its_corner():
    channels = {f"body_{corner}": body(number) for number, corner in enumerate(CORNERS)}
    channels["body_rl"] = body(2, hit_m_per_s2=30.0)
    channels["body_rr"] = body(3, hit_m_per_s2=12.0)  # shaken by the left side's stop
    found = stop_contacts(recording(channels), CAR)
    assert [round(contact.start_s) for contact in found["rl"].bump.contacts] == [15]
    assert found["rl"].bump.contacts[0].probability > 0.8
    assert found["rl"].bump.contacts[0].depth_mm is None
    assert found["rr"].bump.contacts == ()
    assert found["fl"].bump.contacts == ()
    assert found["rl"].droop is None
    assert "no travel sensor" in found["rl"].notes[0]


def test_a_jolt_downwards_is_no_bump_stop():
    channels = {f"body_{corner}": body(number, -30.0) for number, corner in enumerate(CORNERS)}
    found = stop_contacts(recording(channels), CAR)
    assert all(stops.bump.contacts == () for stops in found.values())


def test_a_hub_past_the_gap_makes_a_contact_likelier_and_one_short_of_it_less_likely():
    touch = dict.fromkeys(CORNERS, touch_point(AXLE))
    hit = {corner: body(number) for number, corner in enumerate(CORNERS)}
    hit["fl"] = body(0, hit_m_per_s2=14.0)
    shape = np.exp(-(((TIME - 15) / 0.02) ** 2))
    still = np.zeros_like(TIME)
    free = HubClues(push_m_per_s2=still, hub_m_per_s2=still, past_m=still - 0.03)

    def clues(past_m: float) -> dict[str, HubClues]:
        struck = HubClues(
            push_m_per_s2=20 * shape,
            hub_m_per_s2=80 * shape,
            past_m=(past_m + 0.03) * shape - 0.03,
        )
        return dict.fromkeys(CORNERS, free) | {"fl": struck}

    past = bump_signatures(hit, touch, RATE_HZ, hubs=clues(0.02))["fl"]
    short = bump_signatures(hit, touch, RATE_HZ, hubs=clues(-0.02))["fl"]
    assert past[0].probability > 0.9
    assert short == ()


def test_travel_by_hubs_finds_its_way_through_a_cut_off_hit():
    shape = 0.05 * np.exp(-(((TIME - 15) / 0.03) ** 2)) + 0.01 * np.sin(2 * np.pi * 1.3 * TIME)
    hub = np.gradient(np.gradient(shape, 1 / RATE_HZ), 1 / RATE_HZ)
    seen = np.tile(np.clip(hub, -78.0, 78.0), (4, 1))  # an 8 g sensor
    assert np.abs(hub).max() > 100
    found = travel_of_hubs(seen, np.zeros_like(seen), CAR, RATE_HZ)
    near = np.abs(TIME - 15) < 1.0
    assert np.abs(found[0] - 0.7 * shape)[near].max() < 0.012


def test_without_a_known_gap_the_odds_shrink():
    touch = {"fl": touch_point(AXLE)}
    hit = {"fl": body(1, hit_m_per_s2=30.0)}
    known = bump_signatures(hit, touch, RATE_HZ)["fl"][0]
    guessed = bump_signatures(hit, touch, RATE_HZ, gap_known=False)["fl"][0]
    assert 0.5 < guessed.probability < known.probability


def test_a_hard_push_is_less_of_a_contact_in_a_strongly_damped_car():
    # A damper that pushes hard all day leaves the body's own swing small beside what it passes on.
    touch = {"fl": touch_point(AXLE)}
    swing = np.sin(2 * np.pi * touch["fl"].frequency_hz * TIME)
    soft = {"fl": body(1, hit_m_per_s2=22.0) + 1.5 * swing}
    harsh = np.sin(2 * np.pi * 2.4 * touch["fl"].frequency_hz * TIME)
    hard = {"fl": body(1, hit_m_per_s2=22.0) + 1.5 * harsh}
    jolts = [find_jolts(each, touch, RATE_HZ)["fl"] for each in (soft, hard)]
    assert jolts[0].clues["swing"][0] > jolts[1].clues["swing"][0] + 1.0
    odds = [contact_odds(each).max() for each in jolts]
    assert odds[0] > odds[1] + 1.0


@pytest.mark.parametrize(
    ("sensors", "odds"),
    [(CORNERS, "all"), (("fl", "rl"), "pair"), (("fl", "fr"), "alone"), (("rr",), "alone")],
)
def test_every_set_of_sensors_has_weights_for_just_the_clues_it_gives(sensors, odds):
    touch = dict.fromkeys(sensors, touch_point(AXLE))
    hit = {corner: body(number, 30.0) for number, corner in enumerate(sensors)}
    for jolts in find_jolts(hit, touch, RATE_HZ).values():
        assert jolts.odds == odds
        assert set(CONTACT_ODDS[odds]) - {"constant"} <= set(jolts.clues)
        assert len(contact_odds(jolts)) == len(jolts.start_s) >= 1
