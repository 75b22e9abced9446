"""`ridelog advise` on folders as garages have them: setups forgotten, sensors upside down."""

import functools
import gzip
import io
import json
import shutil
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest

from ridelog.cli.main import main

ESTATE = Path(__file__).parents[2] / "sample_logs" / "simulated_estate"
SMALL = "estate_two_accel_sim"
BOUNCE = "estate_bounce_sim"
TARGETS = ("target_body_frequency", "target_damping_ratio")


@pytest.fixture
def folder(tmp_path):
    shutil.copy(ESTATE / "car.toml", tmp_path)
    return tmp_path


def put(folder, sample, name, setup=""):
    """Put a sample log into the folder as another run, with a setup where one is given."""
    shutil.copy(ESTATE / f"{sample}.csv.gz", folder / f"{name}.csv.gz")
    if setup:
        (folder / f"{name}.setup.toml").write_text(setup, encoding="utf-8")


def edit_car(folder, change):
    path = folder / "car.toml"
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join(filter(None, map(change, lines))) + "\n", encoding="utf-8")


def without(*keys):
    return lambda line: "" if line.startswith(keys) else line


def advised(folder):
    """Advice as a script gets it; it must succeed and be strict JSON."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as leaving:
        main(["advise", str(folder), "--json", "-"])
    assert leaving.value.code == 0, err.getvalue()
    assert "Traceback" not in err.getvalue()
    return json.loads(out.getvalue(), parse_constant=pytest.fail)


@functools.cache
def last_clicks():
    """The highest click of each axle, read from the sample's car file by hand."""
    import tomllib

    car = tomllib.loads((ESTATE / "car.toml").read_text(encoding="utf-8"))
    return {name: car[name]["clicks"] for name in ("front", "rear")}


def test_no_run_has_a_setup(folder):
    put(folder, SMALL, "one")
    put(folder, SMALL, "two")
    advice = advised(folder)
    for axle in advice["axles"].values():
        assert axle["clicks"] == {"now": None, "next": None}
        if axle["state"] == "turn":
            assert axle["direction"] in ("stiffer", "softer")
    assert any("one.csv.gz, two.csv.gz: no setup file" in note for note in advice["notes"])


def test_one_run_only_and_clicks_within_the_knob(folder):
    put(folder, SMALL, "one", "[clicks]\nfront = 4\nrear = 7\n")
    advice = advised(folder)
    assert [run["file"] for run in advice["runs"]] == ["one.csv.gz"]
    for name, axle in advice["axles"].items():
        assert axle["clicks"]["now"] == {"front": 4, "rear": 7}[name]
        assert 0 <= axle["clicks"]["next"] <= last_clicks()[name]


def test_counting_from_full_stiff_turns_every_click_round(folder):
    setup = "[clicks]\nfront = 4\nrear = 7\n"
    put(folder, SMALL, "one", setup)
    soft = advised(folder)
    edit_car(
        folder, lambda line: f'{line}\nclicks_from = "stiff"' if line.startswith("clicks") else line
    )
    last = last_clicks()
    turned = f"[clicks]\nfront = {last['front'] - 4}\nrear = {last['rear'] - 7}\n"
    (folder / "one.setup.toml").write_text(turned, encoding="utf-8")
    stiff = advised(folder)
    for name, highest in last.items():
        before, after = (advice["axles"][name] for advice in (soft, stiff))
        for key in ("now", "next"):
            assert after["clicks"][key] == highest - before["clicks"][key]
        assert after["predicted_damping_ratio"] == before["predicted_damping_ratio"]
        assert f"{highest - before['clicks']['next']} from full stiff" in stiff["next_run"]
    assert stiff["runs"][0]["clicks"]["fl"] == last["front"] - 4


def test_car_without_knobs(folder):
    edit_car(folder, without("clicks"))
    put(folder, SMALL, "one", 'note = "as it came"\n')
    for axle in advised(folder)["axles"].values():
        assert axle["clicks"]["next"] is None
        assert axle["direction"] or axle["done"] or axle["state"] == "unknown"


def test_car_without_targets(folder):
    edit_car(folder, without(*TARGETS))
    put(folder, SMALL, "one", "[clicks]\nfront = 4\nrear = 7\n")
    advice = advised(folder)
    assert not advice["done"]
    assert all(axle["state"] == "unknown" for axle in advice["axles"].values())
    assert "target_damping_ratio" in advice["next_run"]


def test_no_sensor_that_tells_damping(folder):
    with gzip.open(ESTATE / f"{SMALL}.csv.gz", "rt", encoding="utf-8") as log:
        rows = [line.split(",") for line in log.read().splitlines()]
    first_two = "\n".join(",".join(row[:2]) for row in rows)
    (folder / "one.csv").write_text(first_two.replace("body_fl", "cabin"), encoding="utf-8")
    (folder / "one.setup.toml").write_text("[clicks]\nfront = 4\nrear = 7\n", encoding="utf-8")
    advice = advised(folder)
    assert not advice["done"]
    for axle in advice["axles"].values():
        assert (axle["state"], axle["clicks"]["next"]) == ("unknown", None)
        assert axle["reasons"]


@pytest.mark.slow
def test_bounce_log_springs_changed_and_a_sensor_upside_down(folder):
    put(folder, BOUNCE, "1-bounce", "date = 2026-05-01\n[clicks]\nfront = 4\nrear = 7\n")
    setup = "date = 2026-05-02\n[clicks]\nfront = 9\nrear = 7\n[spring_rate]\nfront = "
    put(folder, "estate_upside_down_sim", "2-drive", f'{setup}"60 N/mm"\n')
    advice = advised(folder)
    assert [run["file"] for run in advice["runs"]] == ["1-bounce.csv.gz", "2-drive.csv.gz"]
    assert advice["axles"]["front"]["spring_rate_n_per_m"]["now"] == pytest.approx(60e3)
    assert any("other springs" in reason for reason in advice["axles"]["front"]["reasons"])
    assert any(note.startswith("2-drive.csv.gz: ") for note in advice["notes"])
    for name, axle in advice["axles"].items():
        assert 0 <= axle["clicks"]["next"] <= last_clicks()[name]
