"""Logarithmic decrement and dry friction against worked examples."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from ridelog.estimate.friction_split import split_friction
from ridelog.estimate.log_decrement import log_decrement

TABLE = pd.read_csv(Path(__file__).parent / "data" / "decrements.csv", comment="#")


@pytest.mark.parametrize("row", list(TABLE.itertuples()), ids=list(TABLE.label))
def test_decrement_of_two_peaks(row):
    found = log_decrement(np.array([1.0, 1.0 / row.ratio_per_cycle]), half_cycles=False)
    assert found.decrement_per_cycle == pytest.approx(row.decrement, rel=row.tolerance)
    assert found.damping_ratio == pytest.approx(row.zeta, rel=row.tolerance)


def test_half_cycle_data_of_rao_example_2_14():
    # amplitude falls to a quarter in half a cycle; one public solution is wrong by a factor of two
    found = log_decrement(np.array([1.0, -0.25]), half_cycles=True)
    assert found.decrement_per_cycle == pytest.approx(2.7726, rel=1e-4)
    assert found.damping_ratio == pytest.approx(0.4037, rel=1e-4)


def test_dry_friction_takes_2_f_over_k_off_every_swing():
    # Thomson p. 36, eq. 2.8-1: k 20 kN/m, F 200 N, from 100 mm
    turning_points_mm = np.array([100.0, -80.0, 60.0, -40.0, 20.0])
    found = split_friction(turning_points_mm)
    assert found.friction_displacement * 1e-3 * 20e3 == pytest.approx(200.0, rel=1e-9)
    assert found.damping_ratio == pytest.approx(0.0, abs=1e-9)


def test_viscous_and_dry_parts_by_feeny_and_liang():
    # J. Sound Vib. 195(1), 1996, recursion; sequence computed with an ODE solver:
    # m 300 kg, k 20 kN/m, c 1000 N s/m, F 100 N, from 100 mm
    turning_points_mm = np.array([100.0, -44.3437, 15.4354, -0.4202])
    found = split_friction(turning_points_mm)
    critical = 2 * np.sqrt(20e3 * 300.0)
    assert found.damping_ratio * critical == pytest.approx(1000.0, rel=1e-4)
    assert found.friction_displacement * 1e-3 * 20e3 == pytest.approx(100.0, rel=1e-4)


def test_the_split_needs_no_zero():
    shifted = split_friction(np.array([100.0, -44.3437, 15.4354, -0.4202]) + 37.0)
    assert shifted.friction_displacement == pytest.approx(5.0, rel=1e-4)


def test_a_decrement_reads_dry_friction_as_curvature():
    # the same Thomson decay taken for viscous: the ratio of swings grows from swing to swing
    found = log_decrement(np.array([100.0, -80.0, 60.0, -40.0, 20.0]), half_cycles=True)
    assert found.curvature < -0.1
