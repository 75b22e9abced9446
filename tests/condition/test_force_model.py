"""Forces on a rigid body: hubs in place of travel, and a car integrated by another road."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.condition.force_model import BY_HUB, BY_TRAVEL, force_model
from tests.bench.fleet_cache import cached_fleet

OMEGA = 2 * np.pi * np.array([0.8, 1.5, 3.0, 7.0])


@pytest.fixture(scope="module")
def car():
    return cached_fleet("nonlinear", seed=131, count=2, duration_s=30.0)[0].car


def rows(model) -> np.ndarray:
    """The rows at the factors expected, shape (frequencies, rows, channels)."""
    return model.parts[:, :, 0] + np.einsum("frpc,p->frc", model.parts[:, :, 1:], model.start)


def test_hubs_stand_for_travel_through_the_levers(car):
    """Travel of a solid axle by hand: heave times MR, roll times MR and spacing over track."""
    random = np.random.default_rng(3)
    hub, body = random.normal(size=(2, 4)) + 1j * random.normal(size=(2, 4))
    travel = np.empty(4, dtype=complex)
    for end, axle in enumerate((car.front, car.rear)):
        left, right = (hub - body)[2 * end : 2 * end + 2]
        heave, roll = (left + right) / 2, (left - right) / 2
        ratio = axle.damper_spacing_m / axle.track_m if axle.layout == "solid" else 1.0
        travel[2 * end] = axle.motion_ratio * (heave + ratio * roll)
        travel[2 * end + 1] = axle.motion_ratio * (heave - ratio * roll)
    by_travel = rows(force_model(car, OMEGA, BY_TRAVEL)) @ np.concatenate([travel, body])
    by_hub = rows(force_model(car, OMEGA, BY_HUB)) @ np.concatenate([hub, body])
    np.testing.assert_allclose(by_hub, by_travel, rtol=1e-9)


def test_heave_vanishes_where_springs_and_dampers_carry_the_mass(car):
    """Newton's law on the whole body: sprung mass x heave = sum of the corners' forces."""
    model = force_model(car, OMEGA, BY_TRAVEL)
    random = np.random.default_rng(5)
    travel_acc = random.normal(size=4) + 1j * random.normal(size=4)
    mass = car.front.sprung_mass_kg + car.rear.sprung_mass_kg
    parts = dict(zip(range(len(model.start)), model.start, strict=True))
    # factors of each axle: two springs, two dampers, two frictions, one bar
    for index, omega in enumerate(OMEGA):
        force = 0.0
        for end, axle in enumerate((car.front, car.rear)):
            critical = 2 * np.sqrt(axle.spring_rate_n_per_m * axle.sprung_mass_kg / 2)
            damping = 0.3 * critical / axle.motion_ratio
            for side in range(2):
                travel = -travel_acc[2 * end + side] / omega**2
                first = 2 + 7 * end
                stiff = axle.spring_rate_n_per_m * (
                    parts[first + side] + 1j * parts[first + 4 + side]
                )
                force += axle.motion_ratio * (stiff + 1j * omega * damping) * travel
        heave = force / mass
        share = np.array(
            [axle.sprung_mass_kg / 2 for axle in (car.front, car.front, car.rear, car.rear)]
        )
        body = np.full(4, heave) * mass / share.sum()
        left = rows(model)[index, 0] @ np.concatenate([travel_acc, body])
        assert abs(left) < 1e-9 * abs(heave)
