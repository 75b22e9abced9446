"""The simulated sample logs: unchanged, small, and in keeping with the truth beside them."""

from __future__ import annotations

import hashlib
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from ridelog.simulate.demo import demo_car
from ridelog.simulate.samples import FRONT_CLICKS, REAR_CLICKS, SAMPLES, UPSIDE_DOWN, sample_log
from ridelog.simulate.truth import truth_of

FOLDER = Path(__file__).parents[2] / "sample_logs" / "simulated_estate"
STEMS = [sample.stem for sample in SAMPLES]
G = 9.80665


def side_file(stem: str) -> dict:
    return tomllib.loads((FOLDER / f"{stem}.toml").read_text(encoding="utf-8"))


def table(stem: str) -> pd.DataFrame:
    return pd.read_csv(FOLDER / f"{stem}.csv.gz")


@pytest.mark.parametrize("stem", STEMS)
def test_log_is_the_one_its_side_file_describes(stem):
    data = (FOLDER / f"{stem}.csv.gz").read_bytes()
    assert hashlib.sha256(data).hexdigest() == side_file(stem)["sha256"]
    assert len(data) < 200_000


def test_folder_stays_small():
    assert sum(p.stat().st_size for p in FOLDER.iterdir()) < 900_000


@pytest.mark.parametrize("sample", SAMPLES, ids=STEMS)
def test_columns_rate_and_length(sample):
    frame = table(sample.stem)
    assert len(frame.columns) == 1 + len(sample.channels)
    assert np.median(np.diff(frame["time_s"])) == pytest.approx(1 / sample.sample_rate_hz)
    assert frame["time_s"].iloc[-1] == pytest.approx(sample.duration_s, abs=0.05)


@pytest.mark.parametrize("stem", STEMS)
def test_truth_is_that_of_the_made_up_car(stem):
    car = demo_car().with_clicks(front=FRONT_CLICKS, rear=REAR_CLICKS)
    now = truth_of(car).as_json()["axles"]
    for axle, written in side_file(stem)["truth"]["axles"].items():
        assert written == pytest.approx(now[axle], rel=1e-8)


@pytest.mark.parametrize("sample", SAMPLES, ids=STEMS)
def test_standing_car_feels_gravity_except_where_it_is_upside_down(sample):
    frame = table(sample.stem)
    standing = frame[frame["time_s"] < 2.9]
    for column in (c for c in frame if c.startswith(("body_", "hub_"))):
        turned = bool(sample.fault) and column.startswith(UPSIDE_DOWN)
        assert standing[column].mean() == pytest.approx(-G if turned else G, abs=1.2)


@pytest.mark.parametrize("stem", ["estate_drive_sim", "estate_upside_down_sim"])
def test_travel_passes_the_gap_where_truth_tells_a_contact(stem):
    frame = table(stem)
    gap_mm = {"fl": 38.0, "fr": 38.0, "rl": 45.0, "rr": 45.0}
    for corner, truth in side_file(stem)["truth"]["corners"].items():
        travel, time = frame[f"travel_{corner}_mm"], frame["time_s"]
        for start, end, depth in truth["bump_stop"]:
            inside = travel[(time > start - 0.01) & (time < end + 0.01)]
            # Gain error 0.4 %, offset, noise and steps of a cheap sensor.
            assert inside.max() == pytest.approx(gap_mm[corner] + depth, abs=1.5)


@pytest.mark.slow
def test_generator_still_makes_the_same_log():
    # Rounding may differ from machine to machine, so that a reading may fall a step aside.
    sample = SAMPLES[1]
    made, kept = sample_log(sample).columns, table(sample.stem)
    for name in kept:
        assert np.mean(np.abs(made[name].round(3) - kept[name]) < 1e-6) > 0.99
