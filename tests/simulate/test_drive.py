"""What a drive does to a car: speed, braking, cornering, engine; and the signs of all readings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.simulate.dampers import DamperCurve
from ridelog.simulate.drive import Drive, Engine, Pulse, drive_signals
from ridelog.simulate.march import march
from ridelog.simulate.road import Road
from ridelog.simulate.stepping import make_batch
from ridelog.simulate.true_car import TrueAxle, TrueCar, TrueDamper

STEP_S = 0.001


@pytest.fixture
def car() -> TrueCar:
    curve = DamperCurve(family="linear", slope_n_s_per_m=3000)
    damper = TrueDamper(bump=curve, rebound=curve)
    front = TrueAxle(
        track_m=1.5,
        sprung_mass_kg=600.0,
        unsprung_mass_kg=80.0,
        spring_rate_n_per_m=50e3,
        motion_ratio=0.7,
        tyre_rate_n_per_m=200e3,
        dampers=(damper, damper),
    )
    rear = replace(
        front, layout="solid", damper_spacing_m=1.0, sprung_mass_kg=500.0, unsprung_mass_kg=130.0
    )
    return TrueCar(name="driven", wheelbase_m=2.5, front=front, rear=rear, anti_ratio=0.25)


def steady(car: TrueCar, column: int, value: float):
    """Motion at the end of a slow ramp to a held forward (4) or sideways (5) acceleration."""
    inputs = np.zeros((1, 6000, 10))
    inputs[0, :, column] = value * np.clip(np.arange(6000) / 3000, 0, 1)
    return march(make_batch([car], STEP_S), inputs)


def test_braking_moves_load_forward_whatever_the_links_do(car):
    # Moments about the ground: mass x deceleration x height / wheelbase (textbook statics).
    moved = 1100.0 * 4.0 * car.gravity_height_m / 2.5
    for anti in (0.0, 0.25, 0.4):
        motion = steady(replace(car, anti_ratio=anti), 4, -4.0)
        change = motion.tyre_load[0, -1] - motion.tyre_load[0, 0]
        np.testing.assert_allclose(change, np.array([1, 1, -1, -1]) * moved / 2, rtol=1e-3)


def test_links_take_their_share_of_the_dive(car):
    plain = steady(replace(car, anti_ratio=0.0), 4, -4.0).damper_travel[0, -1]
    linked = steady(replace(car, anti_ratio=0.25), 4, -4.0).damper_travel[0, -1]
    assert plain[0] > 0.005, "the front dives"
    np.testing.assert_allclose(linked, 0.75 * plain, rtol=1e-3)


def test_left_turn_leans_on_the_right_springs(car):
    # Roll moment over the springs' roll stiffness 2 k (lever)^2, per axle; tyres take the same
    # moment on the full track (statics of springs in series, no bars).
    travel = steady(car, 5, 3.0).damper_travel[0, -1]
    moment = 1100.0 * car.roll_arm_m * 3.0
    wheel_rate = 50e3 * 0.7**2

    def axle_stiffness(spacing: float) -> float:
        spring, tyre = 2 * wheel_rate * (spacing / 2) ** 2, 2 * 200e3 * 0.75**2
        return spring * tyre / (spring + tyre)

    front, rear = axle_stiffness(1.5), axle_stiffness(1.0)
    angle = moment / (front + rear)
    front_travel = 0.7 * angle * front / (2 * wheel_rate * 0.75)
    assert travel[1] == pytest.approx(front_travel, rel=2e-3)
    assert travel[0] == pytest.approx(-front_travel, rel=2e-3)
    assert travel[3] > 0 > travel[2]


def test_travel_is_hub_against_body_at_the_dampers(car):
    # Kinematics: damper acceleration = motion ratio x (hub - body), the solid axle's through the
    # levers of its damper spacing; second differences are the other road to it.
    road = Road(gd_n0_m3=64e-6, patch_m=0.3)
    drive = Drive(
        duration_s=20.0, road=road, forward=(Pulse(start_s=1.0, length_s=6.0, height=4.0),)
    )
    step_s = 0.0005
    signals = drive_signals(car, drive, step_s=step_s, rng=np.random.default_rng(3))
    motion = march(make_batch([car], step_s), signals.inputs[None])
    relative = (motion.hub_acceleration - motion.body_acceleration)[0]
    mean = (relative[:, 2:] + relative[:, 3:1:-1]) / 2
    expected = np.hstack([relative[:, :2], mean + (relative[:, 2:] - mean) * (1.0 / 1.5)]) * 0.7
    found = np.diff(motion.damper_travel[0], 2, axis=0) / step_s**2
    error = np.std(found - expected[1:-1], axis=0) / np.std(expected, axis=0)
    assert error.max() < 0.02


def test_speed_is_the_area_under_the_pulses(car):
    # A raised cosine holds half its height times its length: 4 m/s2 x 5 s / 2 = 10 m/s.
    forward = (
        Pulse(start_s=1.0, length_s=5.0, height=4.0),
        Pulse(start_s=8.0, length_s=4.0, height=-2.5),
    )
    drive = Drive(duration_s=14.0, forward=forward)
    signals = drive_signals(car, drive, step_s=STEP_S, rng=np.random.default_rng(1))
    assert signals.speed_m_per_s[900] == 0.0
    assert signals.speed_m_per_s[7000] == pytest.approx(10.0, rel=1e-3)
    assert signals.speed_m_per_s[13000] == pytest.approx(5.0, rel=1e-3)


def test_rear_wheels_reach_a_bump_one_wheelbase_later(car):
    road = Road(gd_n0_m3=64e-6)
    drive = Drive(
        duration_s=30.0, road=road, forward=(Pulse(start_s=0.0, length_s=4.0, height=5.0),)
    )
    signals = drive_signals(car, drive, step_s=STEP_S, rng=np.random.default_rng(5))
    late = round(2.5 / 10.0 / STEP_S)
    front, rear = signals.inputs[10000:29000, 0], signals.inputs[10000 + late : 29000 + late, 2]
    assert np.corrcoef(front, rear)[0, 1] > 0.9999


def test_engine_shakes_at_its_firing_frequency_with_the_stated_strength(car):
    engine = Engine(idle_hz=26.0, running_hz=38.0, level_m_per_s2=0.1, second_ratio=0.0)
    drive = Drive(duration_s=8.0, engine=engine)
    signals = drive_signals(car, drive, step_s=STEP_S, rng=np.random.default_rng(1))
    force = signals.inputs[:, 6]
    spectrum = np.abs(np.fft.rfft(force))
    assert np.fft.rfftfreq(len(force), STEP_S)[np.argmax(spectrum)] == pytest.approx(26.0, abs=0.2)
    assert np.max(force) == pytest.approx(1100.0 * 0.1, rel=1e-2)
