"""The commands on sample logs, as a user and as a script call them."""

import hashlib
import json
import shutil
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


def call(capsys, *arguments):
    """Run a call that must succeed; return what it printed."""
    with pytest.raises(SystemExit) as leaving:
        main([str(argument) for argument in arguments])
    printed = capsys.readouterr()
    assert leaving.value.code == 0, printed.err
    return printed


def without_constants(word):
    raise AssertionError(f"{word} is not JSON")


def strict(text):
    return json.loads(text, parse_constant=without_constants)


@pytest.fixture(params=LOGS, ids=str)
def log(request):
    return LOGS[request.param]


def test_analyze_prints_json_alone(capsys, log):
    printed = call(capsys, "analyze", log, "--json", "-")
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


def test_check_prints_json_alone(capsys, log):
    printed = call(capsys, "check", log, "--json", "-")
    assert printed.err == ""
    assert all(isinstance(answer, bool) for answer in strict(printed.out)["can_tell"].values())


def test_check_promises_what_analyze_keeps(capsys, log):
    promised = strict(call(capsys, "check", log, "--json", "-").out)["can_tell"]
    kept = strict(call(capsys, "analyze", log, "--json", "-").out)
    for axle in ("front", "rear"):
        told = kept["axles"][axle]["damping_ratio"] is not None
        assert told == promised[f"{axle}_frequency_and_damping"]
    assert (kept["comfort"] is not None) == promised["comfort"]
    force = any(corner["damper_force"] for corner in kept["corners"].values())
    assert force == promised["damper_force"]


def test_both_commands_see_the_same_problems(capsys):
    log = ESTATE / "estate_upside_down_sim.csv.gz"
    found = strict(call(capsys, "check", log, "--json", "-").out)["problems"]
    assert [(p["code"], p["channel"]) for p in found] == [("sign", "body_fr")]
    assert strict(call(capsys, "analyze", log, "--json", "-").out)["problems"] == found


def test_tables_are_plain_and_narrow_when_piped(capsys):
    printed = call(capsys, "analyze", LOGS["drive"])
    assert "\x1b" not in printed.out
    assert max(len(line) for line in printed.out.splitlines()) <= 80
    assert "Front axle" in printed.out
    assert printed.err == ""


def test_files_are_written_once_more_and_told(capsys, tmp_path):
    page, document = tmp_path / "run.html", tmp_path / "run.json"
    for _ in range(2):
        printed = call(capsys, "check", LOGS["drive"], "--json", document, "--report", page)
        assert printed.err == f"page written to {page}\nJSON written to {document}\n"
        assert printed.out.startswith("estate_drive_sim.csv.gz")
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert strict(document.read_text(encoding="utf-8"))["contract"] == 1


def test_nothing_recorded_is_touched(capsys, tmp_path):
    for name in ("estate_bounce_sim.csv.gz", "estate_bounce_sim.setup.toml", "car.toml"):
        shutil.copy(ESTATE / name, tmp_path / name)
    before = {path.name: _digest(path) for path in tmp_path.iterdir()}
    call(capsys, "analyze", tmp_path / "estate_bounce_sim.csv.gz", "--json", "-")
    assert {path.name: _digest(path) for path in tmp_path.iterdir()} == before


def _digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_car_and_setup_from_elsewhere(capsys, tmp_path):
    log = tmp_path / "moved.csv.gz"
    shutil.copy(LOGS["bounce"], log)
    printed = call(
        capsys,
        "analyze",
        log,
        "--car",
        ESTATE / "car.toml",
        "--setup",
        ESTATE / "estate_bounce_sim.setup.toml",
        "--json",
        "-",
    )
    moved = strict(printed.out)
    there = strict(call(capsys, "analyze", LOGS["bounce"], "--json", "-").out)
    assert moved["axles"] == there["axles"]
    assert moved["log"]["file"] == "moved.csv.gz"


def test_advise_on_one_log(capsys):
    document = strict(call(capsys, "advise", LOGS["drive"], "--json", "-").out)
    assert document["axles"].keys() == {"front", "rear"}
    assert document["cautions"]
    assert [run["file"] for run in document["runs"]] == ["estate_drive_sim.csv.gz"]
