"""Natural modes against worked examples of textbooks."""

from __future__ import annotations

from math import pi
from pathlib import Path

import pandas as pd
import pytest

from ridelog.estimate.vehicle_modes import half_car_modes, quarter_car_modes

DATA = Path(__file__).parent / "data"
QUARTER = pd.read_csv(DATA / "quarter_cars.csv", comment="#")
HALF = pd.read_csv(DATA / "half_cars.csv", comment="#")


@pytest.mark.parametrize("row", list(QUARTER.itertuples()), ids=list(QUARTER.label))
def test_quarter_car_frequencies(row):
    damping = row.damping if row.frequency == "pole" else 0.0
    modes = quarter_car_modes(
        row.sprung_kg, row.unsprung_kg, row.wheel_rate, row.tyre_rate, damping
    )
    assert modes.body.frequency_hz == pytest.approx(row.body_hz, rel=row.tolerance)
    assert modes.wheel_hop.frequency_hz == pytest.approx(row.hop_hz, rel=row.tolerance)


DAMPED = QUARTER[QUARTER.body_zeta.notna()]


@pytest.mark.parametrize("row", list(DAMPED.itertuples()), ids=list(DAMPED.label))
def test_quarter_car_damping_ratios(row):
    modes = quarter_car_modes(
        row.sprung_kg, row.unsprung_kg, row.wheel_rate, row.tyre_rate, row.damping
    )
    # five digits behind the point are given
    assert modes.body.damping_ratio == pytest.approx(row.body_zeta, abs=5.1e-6)
    assert modes.wheel_hop.damping_ratio == pytest.approx(row.hop_zeta, abs=5.1e-6)


def test_golden_car_poles_as_printed():
    # literal constants in the public code of Sroubek, Sorel and Zak (2021), 1/s
    modes = quarter_car_modes(1.0, 0.15, 63.3, 653.0, 6.0)
    for mode, real, imaginary in (
        (modes.body, 2.590074, 7.323397),
        (modes.wheel_hop, 20.409926, 64.422626),
    ):
        decay_per_s = mode.damping_ratio * 2 * pi * mode.frequency_hz
        assert decay_per_s == pytest.approx(real, rel=1e-6)
        assert 2 * pi * mode.damped_frequency_hz == pytest.approx(imaginary, rel=1e-6)


@pytest.mark.parametrize("row", list(HALF.itertuples()), ids=list(HALF.label))
def test_half_car_frequencies_and_nodes(row):
    # frequencies do not care for the unit of mass and length as long as they fit together
    modes = half_car_modes(
        row.mass, row.radius, row.front_arm, row.rear_arm, row.front_rate, row.rear_rate
    )
    assert 2 * pi * modes.slow_hz == pytest.approx(row.slow_rad_per_s, rel=row.tolerance)
    assert 2 * pi * modes.fast_hz == pytest.approx(row.fast_rad_per_s, rel=row.tolerance)
    if row.slow_node == row.slow_node:
        assert modes.slow_node_m == pytest.approx(row.slow_node, rel=row.tolerance)
        assert modes.fast_node_m == pytest.approx(row.fast_node, rel=row.tolerance)


def test_dynamic_index_of_one_parts_the_axles():
    # property from the same collection (computed): each mode pivots about the opposite axle
    modes = half_car_modes(1000.0, (1.2 * 1.4) ** 0.5, 1.2, 1.4, 40e3, 45e3)
    assert modes.slow_hz == pytest.approx(1.37174, rel=1e-5)
    assert modes.fast_hz == pytest.approx(1.57153, rel=1e-5)
    assert modes.slow_node_m == pytest.approx(-1.4, abs=1e-9)
    assert modes.fast_node_m == pytest.approx(1.2, abs=1e-9)


def test_a_mode_damped_beyond_critical_is_refused():
    with pytest.raises(ValueError, match="does not swing"):
        quarter_car_modes(300.0, 40.0, 20e3, 200e3, 9000.0)
