"""Perch turns: against closed-form corner weight algebra and common practice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.advise.heights import advise_heights, without_bars
from ridelog.car.description import Axle, Car
from ridelog.estimate.stiff_body import body_rows, perch_response
from ridelog.recording import CORNERS, STANDARD_GRAVITY_M_PER_S2
from ridelog.runs.height_figures import HeightFigures

AXLE = Axle(
    layout="independent",
    track_m=1.5,
    sprung_mass_kg=600.0,
    unsprung_mass_kg=80.0,
    spring_rate_n_per_m=60e3,
    motion_ratio=0.7,
    tyre_rate_n_per_m=200e3,
    bump_gap_m=0.04,
    droop_gap_m=0.05,
    perch_thread_pitch_m=0.0015,
)
CAR = Car(name="a made-up car", wheelbase_m=2.6, front=AXLE, rear=AXLE)
WHEEL_RATE = 60e3 * 0.7**2
RIDE_RATE = WHEEL_RATE * 200e3 / (WHEEL_RATE + 200e3)


def corners(*values):
    return dict(zip(CORNERS, values, strict=True))


def figures(**known):
    nothing = {"before_m": {}, "now_m": {}, "wanted_m": {}, "weight_kg": {}}
    return HeightFigures(**{**nothing, "wanted_cross_weight": 0.5, "remarks": (), **known})


def turns_of(advice):
    return np.array([advice.corners[corner].turns.value for corner in CORNERS])


def test_raising_all_corners_alike_goes_by_the_motion_ratio_alone():
    """10 mm at the wheel is 7 mm at a perch with motion ratio 0.7: 4.67 turns of 1.5 mm."""
    now, wanted = corners(*[0.64] * 4), corners(*[0.65] * 4)
    advice = advise_heights(CAR, figures(now_m=now, wanted_m=wanted))
    assert turns_of(advice) == pytest.approx([10 * 0.7 / 1.5] * 4)
    assert advice.warp_m == pytest.approx(0.0, abs=1e-12)
    corner = advice.corners["fl"]
    assert corner.after_m.value == pytest.approx(0.65)
    # A raised car has more room to the bump stop and less to full droop.
    assert corner.bump_gap_m == pytest.approx(0.047)
    assert corner.droop_gap_m == pytest.approx(0.043)


def test_a_lean_is_taken_out_without_touching_the_cross_weight():
    now = corners(0.652, 0.648, 0.642, 0.638)
    advice = advise_heights(CAR, figures(now_m=now))
    turned = turns_of(advice) * 0.0015
    response = perch_response(CAR, (200e3, 200e3))
    assert response.load_n_per_m @ turned == pytest.approx(np.zeros(4), abs=1e-9)
    rise = response.height_m_per_m @ turned
    assert rise == pytest.approx([-0.002, 0.002, -0.002, 0.002])


def test_what_is_out_of_plane_is_left_and_said():
    """Only front uneven: half of it is lean, half is twist that no perch gives a stiff body."""
    now = corners(0.660, 0.650, 0.640, 0.640)
    advice = advise_heights(CAR, figures(now_m=now))
    assert abs(advice.warp_m) == pytest.approx(0.010)
    after = [advice.corners[corner].after_m.value for corner in CORNERS]
    assert after == pytest.approx([0.6575, 0.6525, 0.6375, 0.6425])
    assert any("10 mm out of one plane" in note for note in advice.notes)


def test_cross_weight_by_closed_form():
    """Diagonals turned against each other: 4 R u per wheel pair (three-point support, textbook).

    Equal corners: perches up by u at the wheel on one diagonal and down on the other shift 2 R u
    onto that diagonal's pair of wheels and change no height.
    """
    weight = corners(330.0, 350.0, 360.0, 320.0)
    advice = advise_heights(CAR, figures(weight_kg=weight))
    assert advice.scales.cross_weight.value == pytest.approx(710 / 1360)
    load = (0.5 - 710 / 1360) * 1360 * STANDARD_GRAVITY_M_PER_S2
    wheel = load / (2 * RIDE_RATE)
    expected = wheel * 0.7 / 0.0015 * np.array([-1, 1, 1, -1])
    assert turns_of(advice) == pytest.approx(expected)
    rise = perch_response(CAR, (200e3, 200e3)).height_m_per_m @ (turns_of(advice) * 0.0015)
    assert rise == pytest.approx(np.zeros(4), abs=1e-12)


def test_heights_and_cross_weight_together_reach_both():
    car = replace(CAR, rear=replace(AXLE, layout="solid", damper_spacing_m=1.0, track_m=1.4))
    weight = corners(330.0, 350.0, 360.0, 320.0)
    now = corners(0.655, 0.651, 0.642, 0.646)
    known = figures(now_m=now, weight_kg=weight, wanted_cross_weight=0.505)
    advice = advise_heights(car, known)
    response = perch_response(car, (200e3, 200e3))
    turned = turns_of(advice) * 0.0015
    after = np.array([advice.corners[c].after_m.value for c in CORNERS])
    rise = after - np.array([now[c] for c in CORNERS])
    assert response.height_m_per_m @ turned == pytest.approx(rise, abs=1e-9)
    load = response.load_n_per_m @ turned
    missing = (0.505 - 710 / 1360) * 1360 * STANDARD_GRAVITY_M_PER_S2
    assert load[1] + load[2] == pytest.approx(missing)


def test_intervals_hold_when_readings_stray():
    """Tape errors of 1 mm: the turns for a wanted plane stray as the interval says."""
    rng = np.random.default_rng(204)
    wanted = corners(*[0.65] * 4)
    truth = np.array([0.655, 0.648, 0.643, 0.649])
    truth = body_rows(CAR) @ np.linalg.lstsq(body_rows(CAR), truth, rcond=None)[0]
    exact = turns_of(advise_heights(CAR, figures(now_m=corners(*truth), wanted_m=wanted)))
    held = []
    for _ in range(150):
        read = corners(*(truth + rng.normal(0, 0.001, 4)))
        advice = advise_heights(CAR, figures(now_m=read, wanted_m=wanted))
        held += [
            advice.corners[c].turns.low <= right <= advice.corners[c].turns.high
            for c, right in zip(CORNERS, exact, strict=True)
        ]
    assert 0.92 <= np.mean(held) <= 0.99


def test_bars_stiffen_what_leans_and_can_be_unhooked():
    barred = replace(CAR, front=replace(AXLE, bar_rate_n_per_m=10e3))
    now = corners(0.652, 0.648, 0.642, 0.638)
    plain = turns_of(advise_heights(CAR, figures(now_m=now)))
    hooked = advise_heights(barred, figures(now_m=now))
    assert hooked.bars_hooked
    # In a lean the bar adds twice its rate to the wheel rate.
    assert turns_of(hooked)[:2] == pytest.approx(plain[:2] * (1 + 20e3 / WHEEL_RATE))
    unhooked = advise_heights(without_bars(barred), figures(now_m=now))
    assert turns_of(unhooked) == pytest.approx(plain)


def test_without_a_pitch_there_are_millimetres_and_no_turns():
    car = replace(CAR, rear=replace(AXLE, perch_thread_pitch_m=None, tyre_rate_n_per_m=None))
    advice = advise_heights(car, figures(now_m=corners(0.65, 0.65, 0.645, 0.641)))
    assert advice.corners["rl"].turns is None
    assert advice.corners["rl"].perch_up_m.value < 0
    assert advice.tyre_rate_assumed
    assert any(note.startswith("rear: no perch_thread_pitch") for note in advice.notes)


def test_nothing_measured_still_tells_what_turns_do():
    advice = advise_heights(CAR, figures())
    assert advice.warp_m is None
    assert advice.corners["fl"].turns is None
    assert advice.one_raise["fl"].height_m["rr"] < 0 < advice.one_raise["fl"].height_m["fl"]


def test_scales_that_contradict_the_masses_are_said():
    advice = advise_heights(CAR, figures(weight_kg=corners(400.0, 400.0, 400.0, 400.0)))
    assert any("sprung_mass" in note for note in advice.notes)
