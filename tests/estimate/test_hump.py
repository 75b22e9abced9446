"""Damper over a hump: against a general integrator of differential equations."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from ridelog.car.description import Axle
from ridelog.estimate.hump import Hump, hump_answer

AXLE = Axle(
    layout="independent",
    track_m=1.5,
    sprung_mass_kg=600.0,
    unsprung_mass_kg=80.0,
    spring_rate_n_per_m=60e3,
    motion_ratio=0.7,
)
TYRE = 200e3


@pytest.mark.parametrize("speed", [2.5, 6.0, 12.0])
def test_agrees_with_a_general_integrator(speed):
    hump = Hump()
    mass, hub, wheel = 300.0, 40.0, 60e3 * 0.7**2
    damping = 2 * 0.3 * np.sqrt(wheel * mass)

    def motion(t, y):
        phase = min(max(speed * t / hump.length_m, 0.0), 1.0)
        road = hump.height_m / 2 * (1 - np.cos(2 * np.pi * phase))
        force = wheel * (y[2] - y[0]) + damping * (y[3] - y[1])
        return [y[1], force / mass, y[3], (TYRE * (road - y[2]) - force) / hub]

    time = np.linspace(0, 4, 8001)
    found = solve_ivp(motion, (0, 4), np.zeros(4), t_eval=time, max_step=0.002, rtol=1e-8)
    travel = 0.7 * (found.y[2] - found.y[0])
    moving = 0.7 * (found.y[3] - found.y[1])
    answer = hump_answer(AXLE, 0.3, TYRE, speed)
    assert answer.bump_m == pytest.approx(travel.max(), rel=0.01)
    assert answer.droop_m == pytest.approx(-travel.min(), rel=0.01)
    assert answer.speed_m_per_s == pytest.approx(np.abs(moving).max(), rel=0.01)


def test_at_a_crawl_the_damper_rests():
    assert hump_answer(AXLE, 0.3, TYRE, 0.3).bump_m < 0.001
