"""The kinematic identity on wheel and body motions chosen by hand."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.car.description import Axle, Car
from ridelog.condition.identity import COLUMNS, identity_rows
from ridelog.recording import BODY_CHANNELS, CORNERS, HUB_CHANNELS


def axle(layout: str, track_m: float, motion_ratio: float) -> Axle:
    return Axle(
        layout=layout,
        track_m=track_m,
        sprung_mass_kg=700.0,
        unsprung_mass_kg=90.0,
        spring_rate_n_per_m=40_000.0,
        motion_ratio=motion_ratio,
        damper_spacing_m=0.9 if layout == "solid" else None,
    )


@pytest.fixture
def car() -> Car:
    return Car(
        name="test",
        wheelbase_m=2.7,
        front=axle("independent", 1.5, 0.7),
        rear=axle("solid", 1.4, 0.95),
    )


def accelerations(car: Car, rng: np.random.Generator) -> dict[str, float]:
    """Sensor readings of a rigid body over four free wheels, worked out without matrices."""
    heave, pitch, roll = rng.standard_normal(3)
    motion = {}
    for corner in CORNERS:
        along = 1.2 if corner[0] == "f" else -1.5
        side = 0.5 if corner[1] == "l" else -0.5
        track = (car.front if corner[0] == "f" else car.rear).track_m
        motion[f"body_{corner}"] = heave + along * pitch + side * track * roll
        motion[f"hub_{corner}"] = rng.standard_normal()
    for corner in ("fl", "fr"):
        motion[f"travel_{corner}"] = 0.7 * (motion[f"hub_{corner}"] - motion[f"body_{corner}"])
    # on the beam axle: heave of the axle relative to the body, and its tilt over the damper base
    left = motion["hub_rl"] - motion["body_rl"]
    right = motion["hub_rr"] - motion["body_rr"]
    tilt = (left - right) / 1.4
    motion["travel_rl"] = 0.95 * ((left + right) / 2 + tilt * 0.9 / 2)
    motion["travel_rr"] = 0.95 * ((left + right) / 2 - tilt * 0.9 / 2)
    return motion


def test_all_rows_vanish_on_a_rigid_car(car):
    motion = accelerations(car, np.random.default_rng(10))
    rows = identity_rows(car, COLUMNS)
    assert rows.shape == (5, 12)
    assert np.max(np.abs(rows @ [motion[name] for name in COLUMNS])) < 1e-12


def test_rows_without_a_hub_of_a_beam_axle_still_vanish_and_leave_it_out(car):
    motion = accelerations(car, np.random.default_rng(11))
    kept = [name for name in COLUMNS if name != "hub_rr"]
    rows = identity_rows(car, kept)
    assert len(rows) == 4  # one rear row is spent on the missing hub
    assert np.all(rows[:, COLUMNS.index("hub_rr")] == 0)
    assert np.max(np.abs(rows @ [motion[name] for name in COLUMNS])) < 1e-12


def test_body_and_hub_sensors_alone_are_bound_by_the_rigid_body_only(car):
    rows = identity_rows(car, (*BODY_CHANNELS, *HUB_CHANNELS))
    assert len(rows) == 1
    assert set(np.flatnonzero(rows[0])) == {COLUMNS.index(name) for name in BODY_CHANNELS}
