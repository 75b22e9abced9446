"""The made-up car's folder."""

from __future__ import annotations

import json
import tomllib
from itertools import pairwise

import pandas as pd
import pytest

from ridelog.advise.heights import advise_heights
from ridelog.car.load import load_car
from ridelog.errors import FileError
from ridelog.runs.height_figures import StatedHeights, height_figures
from ridelog.simulate.demo import RUNS, write_demo

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    told: list[float] = []
    files = write_demo(tmp_path_factory.mktemp("demo") / "garage", told.append)
    return files, told


def test_writes_car_logs_setups_and_hidden_truth(demo):
    files, _ = demo
    names = {p.relative_to(files.folder).as_posix() for p in files.folder.rglob("*") if p.is_file()}
    expected = {"car.toml"}
    for run in RUNS:
        expected |= {f"{run.stem}.csv", f"{run.stem}.setup.toml", f"truth/{run.stem}.json"}
    assert names == expected


def test_car_file_says_that_it_is_invented(demo):
    text = demo[0].car_path.read_text(encoding="utf-8")
    car = tomllib.loads(text)
    assert "made-up" in text
    assert car["rear"]["layout"] == "solid"
    assert car["front"]["spring_rate"].endswith("N/mm")


def test_heights_can_be_told_in_turns_of_the_perch(demo):
    """Front 7 mm down everywhere on one axle: turns are the rise over the thread's pitch."""
    car = load_car(demo[0].car_path)
    assert (car.front.perch_thread_pitch_m, car.rear.perch_thread_pitch_m) == (0.0015, 0.002)
    stated = StatedHeights(now=("640 mm", "630 mm"), wanted=("647 mm", "630 mm"))
    advice = advise_heights(car, height_figures(car, stated, None, demo[0].folder))
    for corner in ("fl", "rl"):
        part = advice.corners[corner]
        pitch = car.axle("front" if corner == "fl" else "rear").perch_thread_pitch_m
        assert part.turns.value == pytest.approx(part.perch_up_m.value / pitch)
    assert advice.corners["fl"].turns.value > 1
    assert not any("perch_thread_pitch" in note for note in advice.notes)


def test_logs_are_canonical(demo):
    files, _ = demo
    for path, run in zip(files.log_paths, RUNS, strict=True):
        table = pd.read_csv(path)
        assert next(iter(table)) == "time_s"
        assert table["time_s"].iloc[-1] == pytest.approx(60.0, abs=0.1)
        assert ("travel_fl_mm" in table) is not run.bounce
        assert table["body_fl_mps2"].median() == pytest.approx(9.81, abs=1.2)


def test_setups_name_the_clicks_of_the_story(demo):
    files, _ = demo
    for path, run in zip(files.log_paths, RUNS, strict=True):
        setup = tomllib.loads(path.with_suffix("").with_suffix(".setup.toml").read_text())
        assert setup["clicks"] == {
            "fl": run.front_clicks,
            "fr": run.front_clicks,
            "rl": run.rear_clicks,
            "rr": run.rear_clicks,
        }
        assert setup["date"].isoformat() == run.date


def test_story_comes_nearer_to_its_target(demo):
    files, _ = demo
    car = tomllib.loads(files.car_path.read_text(encoding="utf-8"))
    drives = [p for p, run in zip(files.truth_paths, RUNS, strict=True) if not run.bounce]
    for axle in ("front", "rear"):
        target = car[axle]["target_damping_ratio"]
        ratios = [json.loads(p.read_text())["axles"][axle]["damping_ratio"] for p in drives]
        misses = [abs(ratio / target - 1) for ratio in ratios]
        assert misses[0] > 0.5, "the first drive must be far off"
        assert misses[-1] < 0.15, "the last one must be nearly right"
        assert (ratios[0] - target) * (ratios[1] - target) < 0, "the second one overshoots"


def test_progress_goes_to_the_end(demo):
    _, told = demo
    assert all(a < b for a, b in pairwise(told))
    assert told[-1] == 1.0


def test_refuses_a_folder_that_holds_something(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(FileError, match="the folder is not empty; name a new or an empty one"):
        write_demo(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["notes.txt"]


def test_refuses_a_file_in_the_place_of_a_folder(tmp_path):
    place = tmp_path / "garage"
    place.write_text("a file")
    with pytest.raises(FileError, match="could not be used as a folder"):
        write_demo(place)
    assert place.read_text() == "a file"
