"""A smooth road on which dry friction holds an axle makes no hub late."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import lsq_linear

from ridelog.condition.force_fit import _step
from ridelog.condition.prepare import prepare
from ridelog.recording import BODY_CHANNELS, HUB_CHANNELS
from ridelog.simulate.fleet import fleet_scenes, random_drive
from ridelog.simulate.log import Scene, simulate_logs
from ridelog.simulate.random_car import CarStyle, random_car
from ridelog.simulate.sensors import SensorKit
from tests.bench.accuracy_faults import found_in
from tests.broken_logs.faults import break_log


def test_a_step_within_limits_is_the_bounded_least_squares_solution():
    # Reference: scipy's bounded least squares, one limit met.
    rng = np.random.default_rng(3)
    design = rng.standard_normal((30, 5))
    pull = design @ np.array([1.0, -2.0, 3.0, 0.5, 0.0])
    room = np.array([np.inf, np.inf, 1.2, np.inf, np.inf])
    reference = lsq_linear(design, pull, (-np.inf, room), tol=1e-13).x
    found = _step(design.T @ design, design.T @ pull, room)
    np.testing.assert_allclose(found, reference, atol=1e-6)


@pytest.fixture(scope="module")
def held():
    """A drive on hard dampers with much friction, road of class A."""
    rng = np.random.default_rng([627, 1518825670, 4])
    style = CarStyle(friction_n=(50.0, 70.0), damping_ratio=(0.35, 0.8))
    scene = Scene(
        car=random_car(rng, style),
        drive=random_drive(rng, 75.0, road_levels_m3=(5e-6, 12e-6)),
        kit=SensorKit(),
        seed=int(rng.integers(2**62)),
        channels=(*BODY_CHANNELS, *HUB_CHANNELS, "speed"),
    )
    return simulate_logs([scene])[0]


@pytest.mark.slow
def test_friction_that_holds_an_axle_makes_no_hub_late(held):
    assert prepare(held.recording(), held.car).problems == ()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_a_late_sensor_is_named_all_the_same(held, seed):
    broken = break_log(held.recording(), "late", np.random.default_rng(seed))
    assert found_in(broken.raw, held.car) == [(broken.code, broken.channels)]


@pytest.mark.slow
def test_the_fault_is_told_from_faults_that_only_lead_out_of_a_bad_place():
    # Without a fault the fit of this one stops at a damper's limit; several delays get it out.
    scene = fleet_scenes("accel", seed=642, count=12)[11]
    log = simulate_logs([scene])[0].with_channels((*HUB_CHANNELS, *BODY_CHANNELS, "speed"))
    assert prepare(log.recording(), log.car).problems == ()
    broken = break_log(log.recording(), "late", np.random.default_rng(11))
    assert found_in(broken.raw, log.car) == [(broken.code, broken.channels)]
