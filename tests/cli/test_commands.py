"""The commands on sample logs, as a user and as a script call them."""

import functools
import hashlib
import io
import json
import shutil
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pytest

from ridelog.cli.main import main
from ridelog.recording import PROBLEM_CODES

SAMPLES = Path(__file__).parents[2] / "sample_logs"
ESTATE = SAMPLES / "simulated_estate"
LOGS = {
    "drive": ESTATE / "estate_drive_sim.csv.gz",
    "bounce": ESTATE / "estate_bounce_sim.csv.gz",
    "two sensors": ESTATE / "estate_two_accel_sim.csv.gz",
    "phone": SAMPLES / "real_phone_road" / "good.csv.gz",
    "too slow": SAMPLES / "real_phone_slow" / "first.csv.gz",
}


@dataclass(frozen=True)
class Printed:
    out: str
    err: str


@functools.cache
def call(*arguments):
    """Run a call that must succeed; return what it printed. The same call runs once."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as leaving:
        main([str(argument) for argument in arguments])
    assert leaving.value.code == 0, err.getvalue()
    return Printed(out=out.getvalue(), err=err.getvalue())


def without_constants(word):
    raise AssertionError(f"{word} is not JSON")


def strict(text):
    return json.loads(text, parse_constant=without_constants)


def heavy(name):
    return pytest.param(name, marks=[pytest.mark.slow] if name in ("drive", "bounce") else [])


@pytest.fixture(params=[heavy(name) for name in LOGS], ids=str)
def log(request):
    return LOGS[request.param]


def test_analyze_prints_json_alone(log):
    printed = call("analyze", log, "--json", "-")
    assert printed.err == ""
    document = strict(printed.out)
    assert document["contract"] == 1
    assert document["log"]["file"] == log.name
    for axle in document["axles"].values():
        assert axle["damping_ratio"] is None or axle["damping_ratio"].keys() >= {
            "value",
            "low",
            "high",
        }
    if any(axle["damping_ratio"] is None for axle in document["axles"].values()):
        assert document["notes"]
    assert {problem["code"] for problem in document["problems"]} <= set(PROBLEM_CODES)


def test_check_prints_json_alone(log):
    printed = call("check", log, "--json", "-")
    assert printed.err == ""
    assert all(isinstance(answer, bool) for answer in strict(printed.out)["can_tell"].values())


@pytest.mark.parametrize("name", [heavy(name) for name in LOGS if name != "bounce"])
def test_check_promises_what_analyze_keeps(name):
    """Sensors permit, the drive decides: on these drives both agree."""
    promised = strict(call("check", LOGS[name], "--json", "-").out)["can_tell"]
    kept = strict(call("analyze", LOGS[name], "--json", "-").out)
    told = {
        f"{axle}_frequency_and_damping": kept["axles"][axle]["damping_ratio"] is not None
        for axle in ("front", "rear")
    }
    told["comfort"] = kept["comfort"] is not None
    told["damper_force"] = any(corner["damper_force"] for corner in kept["corners"].values())
    told["whole_car_bounce"] = kept["whole_car"]["bounce_frequency_hz"] is not None
    assert told == {key: promised[key] for key in told}


def test_both_commands_see_the_same_problems():
    log = LOGS["too slow"]
    found = strict(call("check", log, "--json", "-").out)["problems"]
    assert [p["code"] for p in found] == ["slow"]
    assert strict(call("analyze", log, "--json", "-").out)["problems"] == found


def test_tables_are_plain_and_narrow_when_piped():
    printed = call("analyze", LOGS["two sensors"])
    assert "\x1b" not in printed.out
    assert max(len(line) for line in printed.out.splitlines()) <= 80
    assert "Front axle" in printed.out
    assert printed.err == ""


def test_files_are_written_once_more_and_told(tmp_path):
    page, document = tmp_path / "run.html", tmp_path / "run.json"
    for _ in range(2):
        printed = call.__wrapped__("check", LOGS["phone"], "--json", document, "--report", page)
        assert printed.err == f"page written to {page}\nJSON written to {document}\n"
        assert printed.out.startswith("good.csv.gz")
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert strict(document.read_text(encoding="utf-8"))["contract"] == 1


def test_nothing_recorded_is_touched(tmp_path):
    for name in ("estate_two_accel_sim.csv.gz", "estate_two_accel_sim.setup.toml", "car.toml"):
        shutil.copy(ESTATE / name, tmp_path / name)
    before = {path.name: _digest(path) for path in tmp_path.iterdir()}
    call("check", tmp_path / "estate_two_accel_sim.csv.gz", "--json", "-")
    call("analyze", tmp_path / "estate_two_accel_sim.csv.gz", "--json", "-")
    assert {path.name: _digest(path) for path in tmp_path.iterdir()} == before


def _digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_car_and_setup_from_elsewhere(tmp_path):
    log, setup = tmp_path / "moved.csv.gz", tmp_path / "other.toml"
    shutil.copy(LOGS["two sensors"], log)
    setup.write_text('[spring_rate]\nfront = "100 N/mm"\n', encoding="utf-8")
    files = ("--car", ESTATE / "car.toml", "--setup", setup)
    moved = strict(call("analyze", log, *files, "--json", "-").out)
    there = strict(call("analyze", LOGS["two sensors"], "--json", "-").out)
    assert moved["log"]["file"] == "moved.csv.gz"
    assert moved["axles"]["rear"]["damping_ratio"] is not None
    # The car file says 53.8 N/mm in front: the same spring is now far softer than stated.
    errors = [d["axles"]["front"]["catalogue_spring_error"]["value"] for d in (moved, there)]
    assert errors[0] < -0.3 < errors[1]


@pytest.mark.slow
def test_advise_on_one_log():
    document = strict(call("advise", LOGS["drive"], "--json", "-").out)
    assert document["axles"].keys() == {"front", "rear"}
    assert document["cautions"]
    assert [run["file"] for run in document["runs"]] == ["estate_drive_sim.csv.gz"]
