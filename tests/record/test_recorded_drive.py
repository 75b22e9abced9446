"""A recorded drive gives what the car truly is, its scan's delays undone; so does its export."""

from __future__ import annotations

import hashlib
import json
import tomllib

import numpy as np
import pandas as pd
import pytest

from ridelog.cli.main import main
from ridelog.ingest.frame_export import on_time
from tests.record.logger_frames import LSB_MM
from tests.record.sample import FOLDER, ROOT, SCAN_STEP_S, recording_of

ESTATE = ROOT / "simulated_estate"
DRIVE = ESTATE / "estate_drive_sim.csv.gz"


def run(*words: str) -> int:
    with pytest.raises(SystemExit) as leaving:
        main(list(words))
    return int(leaving.value.code)


@pytest.fixture(scope="module")
def drive(tmp_path_factory):
    folder = tmp_path_factory.mktemp("recorded")
    file = folder / "drive.rec"
    file.write_bytes(recording_of(pd.read_csv(DRIVE)))
    (folder / "car.toml").write_bytes((ESTATE / "car.toml").read_bytes())
    return file


@pytest.mark.slow
def test_analysis_of_a_recording_holds_the_truth(drive):
    result = drive.with_suffix(".json")
    assert run("analyze", str(drive), "--json", str(result)) == 0
    axles = json.loads(result.read_text())["axles"]
    truth = tomllib.loads((ESTATE / "estate_drive_sim.toml").read_text())["truth"]["axles"]
    for axle in ("front", "rear"):
        for quantity in ("body_frequency_hz", "damping_ratio"):
            told = axles[axle][quantity]
            assert told["low"] <= truth[axle][quantity] <= told["high"]


def test_export_brings_back_the_log_within_its_resolution(drive, capsys):
    table = drive.with_suffix(".csv")
    assert run("export", str(drive), "--out", str(table)) == 0
    exported, original = pd.read_csv(table), pd.read_csv(DRIVE)
    assert "; 50 lost on the line" in capsys.readouterr().out
    rows = np.rint(exported["time_s"].to_numpy() / 0.004).astype(int)
    assert len(original) - len(exported) == 50
    for name in ("travel_fl_mm", "travel_rr_mm"):
        seen, true = exported[name].to_numpy(), original[name].to_numpy()[rows]
        # Half a count where it is just rounded; the spline over two roundings costs as much again.
        assert np.nanquantile(np.abs(seen - true), 0.99) < 1.5 * LSB_MM
    seen = exported["body_rr_g"].to_numpy()
    true = original["body_rr_mps2"].to_numpy()[rows] / 9.80665
    # Noise near half the rate is not brought back by a spline: a twentieth of what there is.
    assert np.sqrt(np.nanmean((seen - true) ** 2)) < 0.05 * np.std(true)
    assert exported["mark"].dropna().tolist() == [1]


def test_export_never_writes_over_anything(drive, tmp_path, capsys):
    table = tmp_path / "taken.csv"
    table.write_text("precious")
    for name in ("taken.csv", "taken.parquet"):
        (tmp_path / name).write_text("precious")
        assert run("export", str(drive), "--out", str(tmp_path / name)) == 2
        assert (tmp_path / name).read_text() == "precious"
        assert capsys.readouterr().err == (
            f"{name}: exists; nothing was written, choose another name\n"
        )


def test_export_as_parquet_is_the_same(drive, tmp_path):
    assert run("export", str(drive), "--out", str(tmp_path / "a.parquet")) == 0
    assert run("export", str(drive), "--out", str(tmp_path / "a.csv")) == 0
    packed, text = pd.read_parquet(tmp_path / "a.parquet"), pd.read_csv(tmp_path / "a.csv")
    pd.testing.assert_frame_equal(packed, text, rtol=2e-6, atol=1e-6)


def test_export_of_what_needs_none(tmp_path, capsys):
    assert run("export", str(DRIVE), "--out", str(tmp_path / "a.csv")) == 2
    assert capsys.readouterr().err.endswith(
        "is no recording of a serial logger; it needs no export\n"
    )


def test_delays_are_undone_to_the_accuracy_of_a_spline():
    """A sine's value at another time is known exactly."""
    time_s = np.arange(400) / 200
    time_s[200:] += 3.0  # a gap
    late_s = 0.0021
    values = np.sin(2 * np.pi * 9 * (time_s - late_s))
    values[50] = np.nan
    moved = on_time(time_s, values, late_s)
    assert np.flatnonzero(np.isnan(moved)).tolist() == [50]
    inner = np.isfinite(moved)
    inner[[0, 49, 51, 199, 200, 399]] = False  # carried on past the last reading
    error = np.abs(moved - np.sin(2 * np.pi * 9 * time_s))
    assert error[inner].max() < 0.01
    assert np.nanmax(error) < 0.1


def test_the_sample_recording_is_what_its_side_file_says():
    side = tomllib.loads((FOLDER / "estate_bounce_sim.toml").read_text())
    packed = (FOLDER / "estate_bounce_sim.rec.gz").read_bytes()
    assert hashlib.sha256(packed).hexdigest() == side["sha256"]
    assert SCAN_STEP_S > 0
