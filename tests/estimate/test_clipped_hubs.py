"""Hub readings cut off at the limit are made up for from damper travel."""

from __future__ import annotations

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.estimate.balance.clipped_hubs import cut_off, mend_cut_off_hubs

RATE_HZ = 500.0
TIME = np.arange(int(4 * RATE_HZ)) / RATE_HZ
RAIL = 157.0
AXLE = Axle(
    layout="independent",
    track_m=1.5,
    sprung_mass_kg=600.0,
    unsprung_mass_kg=72.0,
    spring_rate_n_per_m=40e3,
    motion_ratio=0.7,
)
CAR = Car(name="made up", wheelbase_m=2.6, front=AXLE, rear=AXLE)


def bump(seed: int = 1):
    """Wheel over a sharp bump: true hub acceleration, body at rest, stepped damper travel."""
    shape = 0.03 * np.exp(-(((TIME - 2.0) / 0.012) ** 2)) + 0.004 * np.sin(9 * TIME)
    hub = np.gradient(np.gradient(shape, 1 / RATE_HZ), 1 / RATE_HZ)
    noise = np.random.default_rng(seed).normal(0, 0.05, len(TIME))
    travel = np.round(0.7 * shape / 0.0002) * 0.0002
    return np.tile(hub + noise, (4, 1)), np.zeros((4, len(TIME))), np.tile(travel, (4, 1)), shape


def test_readings_at_the_limit_are_known():
    hub, *_ = bump()
    seen = np.clip(hub[0], -RAIL, RAIL)
    assert np.array_equal(cut_off(seen), np.abs(seen) > 145.0)
    small = np.clip(hub[0], -60.0, 60.0)  # a sensor of less range
    assert np.array_equal(cut_off(small), np.abs(small) == 60.0)
    assert not cut_off(0.1 * hub[0]).any()
    assert cut_off(np.zeros(0)).shape == (0,)


def test_the_speed_after_a_cut_off_hit_is_right_again():
    hub, body, travel, _ = bump()
    assert np.abs(hub[0]).max() > 1.5 * RAIL
    seen = np.clip(hub, -RAIL, RAIL)
    mended = mend_cut_off_hubs(seen, body, travel, CAR, RATE_HZ)
    lost = np.sum(hub - seen, axis=1) / RATE_HZ  # m/s of wheel speed
    left = np.sum(hub - mended, axis=1) / RATE_HZ
    assert np.abs(lost).min() > 0.3
    assert np.abs(left).max() < 0.15 * np.abs(lost).min()
    untouched = ~cut_off(seen[0])
    assert np.array_equal(mended[:, untouched], seen[:, untouched])


def test_sound_readings_are_left_alone():
    hub, body, travel, _ = bump()
    calm = 0.2 * hub
    assert np.array_equal(mend_cut_off_hubs(calm, body, travel, CAR, RATE_HZ), calm)


def test_nothing_is_taken_away_where_travel_saw_less():
    hub, body, travel, _ = bump()
    seen = np.clip(hub, -RAIL, RAIL)
    mended = mend_cut_off_hubs(seen, body, 0.2 * travel, CAR, RATE_HZ)
    assert np.all(np.abs(mended) >= np.abs(seen) - 1e-9)
