"""Comfort of three measured drives whose roads their author sorted by his own judgement.

Logs and licence in sample_logs/real_phone_road; nothing there was measured or sorted by us.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from ridelog.car.load import load_car
from ridelog.condition.prepare import prepare
from ridelog.estimate.comfort import comfort_of_recording
from ridelog.estimate.result import ComfortResult
from ridelog.ingest.read import read_log

FOLDER = Path(__file__).parents[2] / "sample_logs" / "real_phone_road"


@pytest.fixture(scope="module")
def comfort() -> dict[str, ComfortResult]:
    car = load_car(FOLDER / "car.toml")
    found = {}
    for road in ("good", "medium", "rough"):
        raw = read_log(FOLDER / f"{road}.csv.gz", car.logger)
        found[road] = comfort_of_recording(prepare(raw, car).recording)
    return found


# The roughest single second is left out: one pothole of the medium road outdoes the rough road's.
@pytest.mark.parametrize("figure", ["weighted_rms_mps2", "vdv_mps175"])
def test_the_better_the_road_the_better_the_ride(comfort, figure):
    good, medium, rough = (getattr(comfort[road], figure) for road in ("good", "medium", "rough"))
    assert good < medium < rough


def test_weighting_takes_off_no_more_than_half_of_what_was_measured(comfort):
    # unweighted rms of the whole drives, read off the files by somebody else: 0.28, 0.64, 0.88;
    # Wk lies between 0.48 and 1.05 from 1 to 16 Hz, where a car's body moves
    for road, unweighted in (("good", 0.28), ("medium", 0.64), ("rough", 0.88)):
        assert 0.4 * unweighted < comfort[road].weighted_rms_mps2 < 1.1 * unweighted


def test_a_phone_on_the_floor_says_where_it_lay_and_what_it_misses(comfort):
    assert comfort["rough"].place == "cabin floor"
    assert any("holds nothing above 49.8 Hz" in remark for remark in comfort["rough"].remarks)
