"""One log from file to results: the setup's springs, left-out channels, and whose name is given."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.errors import LogError
from ridelog.runs.analyze import analyze_log, with_setup
from ridelog.runs.setup import RunSetup
from ridelog.simulate.files import write_log_csv
from ridelog.simulate.fleet import simulate_fleet


@pytest.fixture(scope="module")
def drive():
    (log,) = simulate_fleet("nonlinear", seed=241, count=1, duration_s=26.0)
    return log


def test_springs_of_the_setup_take_the_place_of_the_car_files(drive):
    car = drive.car
    assert with_setup(car, None) is car
    setup = RunSetup(spring_rate_n_per_m={"fl": 50e3, "fr": 54e3})
    changed = with_setup(car, setup)
    assert changed.front.spring_rate_n_per_m == 52e3
    assert changed.rear == car.rear
    assert with_setup(car, RunSetup()) == car


@pytest.mark.slow
def test_a_whole_log_goes_from_file_to_force_balance(drive, tmp_path):
    path = tmp_path / "drive.csv"
    write_log_csv(path, drive)
    before = path.read_bytes()
    result = analyze_log(path, drive.car)
    assert path.read_bytes() == before
    assert result.log.file.endswith("drive.csv")
    for axle in ("front", "rear"):
        found, truth = result.axles[axle], drive.truth.axles[axle]
        assert found.method == "force balance (travel+body+hub)"
        assert found.body_frequency_hz.value == pytest.approx(truth.body_frequency_hz, rel=0.02)


@pytest.mark.slow
def test_a_dead_hub_is_left_out_and_named(drive, tmp_path):
    path = tmp_path / "dead.csv"
    dead = replace(
        drive,
        channels={**drive.channels, "hub_fl": np.full_like(drive.channels["hub_fl"], 9.81)},
    )
    write_log_csv(path, dead)
    result = analyze_log(path, drive.car)
    assert any(p.code == "flat" and p.channel == "hub_fl" for p in result.problems)
    assert any("left out" in note and "hub_fl" in note for note in result.notes)
    assert "hub_fl" not in result.log.channels
    assert result.axles["front"].method == "force balance (travel+body)"


def test_a_log_of_a_few_rows_is_refused_by_its_name(drive, tmp_path):
    path = tmp_path / "tiny.csv"
    path.write_text("time_s,body_fl_mps2\n0.0,9.8\n0.01,9.8\n0.02,9.8\n", encoding="utf-8")
    with pytest.raises(LogError, match=r"tiny\.csv.*16 rows"):
        analyze_log(path, drive.car)
