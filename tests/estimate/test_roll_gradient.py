"""Roll gradient: exact where the motion is written down, and what a log without corners says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.car.description import Axle, Car
from ridelog.errors import SignalError
from ridelog.estimate.result import WholeCarResult
from ridelog.estimate.roll_gradient import RollGradientSettings, roll_gradient
from ridelog.estimate.roll_stiffness import axle_roll, stated_front_share
from ridelog.estimate.rolling import with_rolling
from ridelog.recording import CORNERS, Recording, Source

G = 9.80665
RATE_HZ = 100.0
AXLE = Axle(
    layout="independent",
    track_m=1.5,
    sprung_mass_kg=600.0,
    unsprung_mass_kg=80.0,
    spring_rate_n_per_m=60e3,
    motion_ratio=0.7,
    tyre_rate_n_per_m=200e3,
    bar_rate_n_per_m=8e3,
)
CAR = Car(
    name="a made-up car",
    wheelbase_m=2.6,
    front=AXLE,
    rear=replace(
        AXLE,
        layout="solid",
        damper_spacing_m=1.0,
        spring_rate_n_per_m=40e3,
        motion_ratio=0.9,
        bar_rate_n_per_m=0.0,
    ),
)
ROLL_AXIS_ARM_M = 0.45
LINK_ARM_M = RollGradientSettings().link_arm_m


def rolls():
    wheel = [a.spring_rate_n_per_m * a.motion_ratio**2 for a in (CAR.front, CAR.rear)]
    return [
        axle_roll(axle, rate, axle.bar_rate_n_per_m, 200e3)
        for axle, rate in zip((CAR.front, CAR.rear), wheel, strict=True)
    ]


def steady_lean_per_acceleration():
    """Body and axles against the road [rad per m/s2] by statics of a body on two axles.

    Couple balance: m a h = sum of S_i (phi - psi_i); axle i: S_i (phi - psi_i) + c_i a = T_i psi_i.
    """
    couples = [680.0 * LINK_ARM_M] * 2
    matrix, load = np.zeros((3, 3)), np.zeros(3)
    load[0] = 1200.0 * ROLL_AXIS_ARM_M
    for index, roll in enumerate(rolls()):
        soft, hard = roll.suspension_n_m_per_rad, roll.tyres_n_m_per_rad
        matrix[0, 0] += soft
        matrix[0, 1 + index] -= soft
        matrix[1 + index, 0] -= soft
        matrix[1 + index, 1 + index] += soft + hard
        load[1 + index] = couples[index]
    return np.linalg.solve(matrix, load)


def drive(seconds=80.0, corners=8, noise=0.0, seed=205):
    """A drive through bends of several seconds, leaning without delay."""
    rng = np.random.default_rng(seed)
    time = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    sideways = np.zeros_like(time)
    for start in np.linspace(4, seconds - 9, corners) if corners else ():
        length = rng.uniform(3, 5)
        inside = np.clip((time - start) / length, 0, 1)
        sideways += rng.choice([-1, 1]) * rng.uniform(1.5, 3) * np.sin(np.pi * inside) ** 2
    body, *axles = steady_lean_per_acceleration()
    channels = {"body_lat": sideways + G * body * sideways}
    for index, axle in enumerate((CAR.front, CAR.rear)):
        # Acceleration to the left: left side up, so the left damper extends.
        lean = (body - axles[index]) * sideways
        half = axle.motion_ratio * axle.roll_lever_ratio * axle.track_m / 2 * lean
        for corner, sign in zip(CORNERS[2 * index : 2 * index + 2], (-1, 1), strict=True):
            channels[f"travel_{corner}"] = sign * half + noise * rng.normal(size=len(time))
    return Recording(
        sample_rate_hz=RATE_HZ,
        channels=channels,
        valid=np.ones(len(time), dtype=bool),
        source=Source(file="bends.csv", layout="canonical"),
    )


def test_statics_of_a_body_on_two_axles_come_back():
    """Beside the estimator's own formula stands the solution of three couple balances."""
    expected = np.rad2deg(steady_lean_per_acceleration()[0]) * G
    found = roll_gradient(drive(), CAR)
    assert found.value == pytest.approx(expected, rel=0.01)
    assert found.low < expected < found.high


def test_one_axle_is_enough_and_gaps_do_not_matter():
    recording = drive()
    kept = {n: v for n, v in recording.channels.items() if not n.startswith("travel_r")}
    valid = recording.valid.copy()
    valid[2000:2100] = False
    gappy = {name: np.where(valid, values, 7.0) for name, values in kept.items()}
    expected = np.rad2deg(steady_lean_per_acceleration()[0]) * G
    found = roll_gradient(replace(recording, channels=gappy, valid=valid), CAR)
    assert found.value == pytest.approx(expected, rel=0.02)


def test_noise_widens_the_interval():
    plain, noisy = (roll_gradient(drive(noise=noise), CAR) for noise in (0.0005, 0.02))
    assert noisy.random_half_width > 3 * plain.random_half_width


@pytest.mark.parametrize(
    ("recording", "words"),
    [
        (drive(corners=0, noise=0.001), "no cornering to speak of"),
        (drive(seconds=12.0, corners=1), "too short"),
    ],
)
def test_a_log_without_corners_says_so(recording, words):
    with pytest.raises(SignalError, match=words):
        roll_gradient(recording, CAR)


@pytest.mark.parametrize(
    ("missing", "words"), [("body_lat", "lateral acceleration"), ("travel_", "both travel sensors")]
)
def test_missing_sensors_are_named_in_a_note(missing, words):
    recording = drive()
    kept = {n: v for n, v in recording.channels.items() if not n.startswith(missing)}
    whole, notes = with_rolling(
        WholeCarResult(), replace(recording, channels=kept), CAR, None, "drive"
    )
    assert whole.roll_gradient_deg_per_g is None
    assert any(note.startswith("no roll gradient") and words in note for note in notes)


def test_a_bounce_test_does_not_corner():
    whole, notes = with_rolling(WholeCarResult(), drive(), CAR, None, "bounce")
    assert whole.roll_gradient_deg_per_g is None
    assert notes == ("no rolling: a bounce test does not corner",)


def test_share_by_the_car_file():
    front, rear = rolls()
    share = front.total_n_m_per_rad / (front.total_n_m_per_rad + rear.total_n_m_per_rad)
    found = stated_front_share(CAR)
    assert found.value == pytest.approx(share)
    assert found.low < share < found.high
    bare = replace(CAR.front, bar_rate_n_per_m=None), replace(CAR.rear, bar_rate_n_per_m=None)
    assert stated_front_share(replace(CAR, front=bare[0], rear=bare[1])) is None
