"""Files of a simulated log, read back by a general library and by the program itself."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest

from ridelog.car.load import load_car
from ridelog.errors import FileError
from ridelog.ingest.read import read_log
from ridelog.runs.load_setup import load_setup
from ridelog.simulate.files import car_toml, csv_text, setup_toml, truth_json, write_log_csv
from ridelog.simulate.fleet import fleet_scenes
from ridelog.simulate.log import SimulatedLog, simulate_logs
from ridelog.simulate.true_car import TrueCar


@pytest.fixture(scope="module")
def log() -> SimulatedLog:
    scenes = fleet_scenes("dirty", seed=4, count=8, duration_s=8.0)
    solid = next(scene for scene in scenes if scene.car.rear.layout == "solid")
    return simulate_logs([solid], step_s=0.001)[0]


@pytest.mark.parametrize("name", ["log.csv", "log.csv.gz"])
def test_a_general_library_reads_the_same_numbers(tmp_path, log, name):
    write_log_csv(tmp_path / name, log)
    frame = pd.read_csv(tmp_path / name)
    assert list(frame) == list(log.columns)
    for column, values in log.columns.items():
        np.testing.assert_allclose(frame[column], np.round(values, 5), rtol=0, atol=1e-9)


def test_lost_cells_are_empty(log):
    lost = sum(int(np.isnan(v).sum()) for v in log.columns.values())
    text = csv_text(log)
    cells = [cell for line in text.splitlines() for cell in line.split(",")]
    assert cells.count("") == lost > 0
    assert "nan" not in text


def test_nothing_is_overwritten(tmp_path, log):
    path = tmp_path / "log.csv"
    path.write_text("my drive")
    with pytest.raises(FileError, match=r"log\.csv: is there already; nothing was overwritten"):
        write_log_csv(path, log)
    assert path.read_text() == "my drive"


def test_same_log_is_the_same_file(tmp_path, log):
    one = write_log_csv(tmp_path / "one.csv.gz", log)
    two = write_log_csv(tmp_path / "two.csv.gz", log)
    assert one == two


def test_program_reads_car_setup_and_log_back(tmp_path, log):
    car_path, setup_path = tmp_path / "car.toml", tmp_path / "log.setup.toml"
    car_path.write_text(car_toml(log.car, "a remark"), encoding="utf-8")
    setup_path.write_text(setup_toml(log, date="2026-05-02", note="made up"), encoding="utf-8")
    write_log_csv(tmp_path / "log.csv", log)
    car = load_car(car_path)
    assert car.name == log.car.name
    for read, meant in ((car.front, log.car.front), (car.rear, log.car.rear)):
        assert read.layout == meant.layout
        for key in ("sprung_mass_kg", "spring_rate_n_per_m", "motion_ratio", "bump_gap_m"):
            assert getattr(read, key) == pytest.approx(getattr(meant, key), rel=2e-3)
        assert read.clicks == meant.clicks
    assert car.rear.damper_spacing_m == pytest.approx(log.car.rear.damper_spacing_m, abs=1e-3)
    assert load_setup(setup_path, car).clicks == log.clicks
    raw = read_log(tmp_path / "log.csv", car.logger)
    for name, values in log.recording().channels.items():
        np.testing.assert_allclose(raw.channels[name], values, atol=2e-5)


def test_truth_is_written_for_the_car_as_it_is(log):
    truth = json.loads(truth_json(log))
    assert isinstance(log.true_car, TrueCar)
    assert truth["axles"]["rear"]["friction_n"] == log.true_car.rear.dampers[0].friction_n
