"""Bench curves against recordings of a damper in a testing machine, made by a university."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from ridelog.estimate.bench_curve import bench_curve, force_at_speed

DATA = Path(__file__).parent / "data"
TABLE = pd.read_csv(DATA / "damper_bench.csv", comment="#")


def read(record: str) -> pd.DataFrame:
    names = ["time_s", "displacement_mm", "velocity_mm_per_s", "force_n"]
    return pd.read_csv(DATA / f"damper_bench_{record}.txt", sep=r"\s+", names=names)


@pytest.mark.parametrize("row", list(TABLE.itertuples()), ids=list(TABLE.record))
def test_force_near_the_peak_speed(row):
    log = read(row.record)
    velocity = log.velocity_mm_per_s.to_numpy() / 1e3
    curve = bench_curve(velocity, log.force_n.to_numpy())
    # the table averages from 95 % of the peak speed on: its middle lies near 98 %
    out = force_at_speed(curve, 0.98 * velocity.max())
    back = force_at_speed(curve, 0.98 * velocity.min())
    assert out == pytest.approx(row.force_out_n, rel=row.tolerance)
    assert back == pytest.approx(row.force_in_n, rel=row.tolerance)


@pytest.mark.parametrize("row", list(TABLE.itertuples()), ids=list(TABLE.record))
def test_the_curve_never_falls(row):
    log = read(row.record)
    curve = bench_curve(log.velocity_mm_per_s.to_numpy() / 1e3, log.force_n.to_numpy())
    assert np.all(np.diff(curve.force_n) >= 0)
    assert np.all(np.diff(curve.speed_m_per_s) > 0)


def test_more_current_is_more_force_at_every_speed():
    forces = []
    for record in TABLE.record:
        log = read(record)
        curve = bench_curve(log.velocity_mm_per_s.to_numpy() / 1e3, log.force_n.to_numpy())
        forces.append([force_at_speed(curve, speed) for speed in (-0.05, -0.025, 0.025, 0.05)])
    outward = np.array(forces)[:, 2:]
    inward = np.array(forces)[:, :2]
    assert np.all(np.diff(outward, axis=0) > 0)
    assert np.all(np.diff(inward, axis=0) < 0)
