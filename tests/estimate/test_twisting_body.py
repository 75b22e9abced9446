"""A body that twists is seen by its four sensors, and is not asked to be stiff."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ridelog.car.load import load_car
from ridelog.estimate.balance.kinematics import calibrate_kinematics
from ridelog.estimate.balance.signals import CornerSignals

RATE_HZ = 250.0
DURATION_S = 30.0
CAR = load_car(Path(__file__).parents[2] / "sample_logs" / "simulated_estate" / "car.toml")


def drive(twist_share: float) -> CornerSignals:
    """Sines of many frequencies: body in heave, pitch, roll and twist, wheels on their own."""
    rng = np.random.default_rng(5)
    time = np.arange(int(DURATION_S * RATE_HZ)) / RATE_HZ
    frequency = np.linspace(0.7, 14.0, 60)
    omega = 2 * np.pi * frequency

    def motion(size: float) -> tuple[np.ndarray, np.ndarray]:
        phase = rng.uniform(0, 2 * np.pi, len(omega))
        waves = (
            size
            * rng.standard_normal(len(omega))[:, None]
            * np.cos(omega[:, None] * time + phase[:, None])
        )
        return waves.sum(axis=0), (-waves / omega[:, None] ** 2).sum(axis=0)

    heave, pitch, roll, twist = (motion(size) for size in (0.1, 0.08, 0.06, 0.06 * twist_share))
    signs = {"heave": (1, 1, 1, 1), "pitch": (1, 1, -1, -1), "roll": (1, -1, 1, -1)}
    modes = (heave, pitch, roll, twist)
    shapes = (*signs.values(), (1, -1, -1, 1))
    body = [
        sum(shape[corner] * mode[order] for shape, mode in zip(shapes, modes, strict=True))
        for order in (0, 1)
        for corner in range(4)
    ]
    body_acceleration, body_height = np.stack(body[:4]), np.stack(body[4:])
    wheels = [motion(0.4) for _ in range(4)]
    hub_acceleration = np.stack([wheel[0] for wheel in wheels])
    wheel_travel = np.stack([wheel[1] for wheel in wheels]) - body_height
    # Damper travel of the car file's axles, written out by hand: the rear axle is solid.
    ratio, share = CAR.rear.motion_ratio, 1.02 / 1.42
    rear = ratio * np.array([[1 + share, 1 - share], [1 - share, 1 + share]]) / 2
    travel = np.vstack([CAR.front.motion_ratio * wheel_travel[:2], rear @ wheel_travel[2:]])
    noise = rng.standard_normal((12, len(time)))
    return CornerSignals(
        sample_rate_hz=RATE_HZ,
        travel_m=travel + 5e-5 * noise[:4],
        hub_m_per_s2=hub_acceleration + 0.03 * noise[4:8],
        body_m_per_s2=body_acceleration + 0.03 * noise[8:],
        use=np.ones(len(time), dtype=bool),
    )


@pytest.mark.parametrize(("twist_share", "expected"), [(0.0, False), (1.0, True)])
def test_says_whether_the_body_twists(twist_share: float, expected: bool) -> None:
    assert calibrate_kinematics([drive(twist_share)], CAR).body_twists is expected


def test_a_twist_does_not_bend_the_gains() -> None:
    """All sensors are right; their corrections stay within a few of their own deviations."""
    found = calibrate_kinematics([drive(1.0)], CAR)
    deviations = np.sqrt(np.diag(found.covariance))[8:12]
    assert np.all(np.abs(found.body_log_gain) < 3 * deviations)
