"""Builders shared by the closed-form checks of the simulator."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ridelog.simulate.dampers import DamperCurve
from ridelog.simulate.true_car import TrueAxle, TrueCar, TrueDamper

QuarterCar = Callable[..., TrueCar]


@pytest.fixture
def make_quarter_car() -> QuarterCar:
    """Four equal corners: in heave, the whole car moves as one quarter car."""

    def make(
        *,
        sprung_kg: float,
        unsprung_kg: float,
        spring: float,
        tyre: float,
        damping: float = 0.0,
        friction_n: float = 0.0,
        width: float = 0.004,
        motion_ratio: float = 0.8,
    ) -> TrueCar:
        slope = damping / motion_ratio**2
        curve = DamperCurve(family="linear", slope_n_s_per_m=slope)
        damper = TrueDamper(
            bump=curve,
            rebound=curve,
            friction_n=friction_n / motion_ratio,
            friction_width_m_per_s=width * motion_ratio,
        )
        axle = TrueAxle(
            track_m=1.5,
            sprung_mass_kg=2 * sprung_kg,
            unsprung_mass_kg=2 * unsprung_kg,
            spring_rate_n_per_m=spring / motion_ratio**2,
            motion_ratio=motion_ratio,
            tyre_rate_n_per_m=tyre,
            tyre_damping_n_s_per_m=0.0,
            dampers=(damper, damper),
        )
        return TrueCar(name="quarter car", wheelbase_m=2.6, front=axle, rear=axle)

    return make
