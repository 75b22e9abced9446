"""Coil springs, nested springs and ride rates against worked examples."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from ridelog.estimate.coil_spring import coil_spring_rate, nested_deflection, solid_height
from ridelog.estimate.ride_math import (
    damper_rate_for_ratio,
    frequency_from_deflection,
    natural_frequency,
    ride_rate,
    spring_rate_for_frequency,
    wheel_rate,
)

TABLE = pd.read_csv(Path(__file__).parent / "data" / "coil_springs.csv", comment="#")
LBF_PER_IN = 175.126835246476  # NIST SP 811
LB = 0.45359237  # NIST SP 811


@pytest.mark.parametrize("row", list(TABLE.itertuples()), ids=list(TABLE.label))
def test_coil_spring_rate(row):
    rate = coil_spring_rate(row.wire_m, row.mean_diameter_m, row.active_coils, row.shear_modulus_pa)
    assert rate == pytest.approx(row.rate_n_per_m, rel=row.tolerance)


SOLID = TABLE[TABLE.solid_m.notna()]


@pytest.mark.parametrize("row", list(SOLID.itertuples()), ids=list(SOLID.label))
def test_solid_height(row):
    # Mott prints 0.898 in = 22.8 mm
    assert solid_height(row.wire_m, row.active_coils) == pytest.approx(row.solid_m, rel=0.001)


def test_nested_pair_of_bhandari_example_10_19():
    found = nested_deflection(1000.0, 28253.5, 29430.7, 0.015)
    assert found.outer_force_n == pytest.approx(706.02, abs=0.01)
    assert found.inner_force_n == pytest.approx(293.98, abs=0.01)
    assert found.outer_deflection_m == pytest.approx(0.0249888, abs=1e-7)
    assert found.inner_deflection_m == pytest.approx(0.0099888, abs=1e-7)


def test_before_the_gap_closes_only_the_outer_spring_carries():
    found = nested_deflection(282.535, 28253.5, 29430.7, 0.015)
    assert found.outer_deflection_m == pytest.approx(0.010)
    assert found.inner_force_n == 0.0


@pytest.mark.parametrize(
    ("deflection_mm", "frequency_hz"),
    [(248.41, 1.0), (158.98, 1.25), (110.40, 1.5), (62.10, 2.0), (39.74, 2.5), (27.60, 3.0)],
)
def test_static_deflection_gives_the_frequency(deflection_mm, frequency_hz):
    # computed in the collection; Gillespie ch. 5 has 9.78 in for 1 Hz (from memory)
    found = frequency_from_deflection(deflection_mm / 1e3)
    assert found == pytest.approx(frequency_hz, rel=1e-4)


def test_wheel_rate_of_barton_and_fieldhouse_p_179():
    assert wheel_rate(400.0, 0.80) == pytest.approx(256.0)
    assert wheel_rate(300.0, 0.8) == pytest.approx(192.0)


def test_ride_rate_of_the_saloon_of_barton_and_fieldhouse():
    # p. 209 corner: 22 and 192 kN/m in series
    assert ride_rate(22e3, 192e3) == pytest.approx(19.738e3, rel=1e-4)


def test_spring_for_a_wanted_frequency_of_a_student_design_sheet():
    # inputs of a public design script, results computed there with 386.4 in/s2 (0.08 % from g_n)
    mass = 489.75 * LB
    spring = spring_rate_for_frequency(1.9, mass, 0.728, 2000 * LBF_PER_IN)
    assert spring / LBF_PER_IN == pytest.approx(374.67, rel=1e-3)
    forward = ride_rate(wheel_rate(spring, 0.728), 2000 * LBF_PER_IN)
    assert natural_frequency(forward, mass) == pytest.approx(1.9, rel=1e-12)


def test_chain_from_spring_to_damper_in_si():
    # computed in the collection: 60 N/mm, ratio 0.75, tyre 200 N/mm, 300 kg, damping ratio 0.3
    rate_at_wheel = wheel_rate(60e3, 0.75)
    rate_on_tyre = ride_rate(rate_at_wheel, 200e3)
    assert rate_at_wheel == pytest.approx(33750.0)
    assert rate_on_tyre == pytest.approx(28877.0, rel=1e-4)
    assert natural_frequency(rate_at_wheel, 300.0) == pytest.approx(1.6881, rel=1e-4)
    assert natural_frequency(rate_on_tyre, 300.0) == pytest.approx(1.5615, rel=1e-4)
    assert damper_rate_for_ratio(0.3, rate_on_tyre, 300.0, 0.75) == pytest.approx(3139.5, rel=1e-4)
