"""The setup beside a log: by axle or corner, clicks counted the owner's way."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.car.description import Axle, Car
from ridelog.errors import SetupFileError
from ridelog.runs.load_setup import find_setup, load_setup
from ridelog.runs.setup import RunSetup

AXLE = Axle(
    layout="independent",
    track_m=1.5,
    sprung_mass_kg=700,
    unsprung_mass_kg=80,
    spring_rate_n_per_m=60e3,
    motion_ratio=0.7,
    clicks=18,
    bump_clicks=12,
    rebound_clicks=20,
)
CAR = Car(name="wagon", wheelbase_m=2.7, front=AXLE, rear=replace(AXLE, clicks=None))
STIFF = replace(CAR, front=replace(AXLE, clicks_from="stiff"))


@pytest.fixture
def setup(tmp_path: Path):
    def write_and_load(text: str, car: Car = CAR) -> RunSetup:
        path = tmp_path / "drive.setup.toml"
        path.write_text(text, encoding="utf-8")
        return load_setup(path, car)

    return write_and_load


def faults(setup, text: str, car: Car = CAR) -> str:
    with pytest.raises(SetupFileError) as error:
        setup(text, car)
    return str(error.value)


def test_the_contracts_example(setup):
    run = setup(
        """
date = 2026-05-02
note = "baseline, half a tank, alone in the car"
[clicks]
front = 6
rear = 8
[spring_rate]
front = "500 lbf/in"
[ride_height]
fl = "655 mm"
[tyre_pressure]
front = "30 psi"
"""
    )
    assert run.date == "2026-05-02"
    assert run.note == "baseline, half a tank, alone in the car"
    assert run.clicks == {"fl": 6, "fr": 6, "rl": 8, "rr": 8}
    # 500 lbf/in, 30 psi: NIST SP 811 (2008), B.8.
    assert run.spring_rate_n_per_m == pytest.approx({"fl": 87563.418, "fr": 87563.418}, abs=1e-3)
    assert run.ride_height_m == pytest.approx({"fl": 0.655})
    assert run.tyre_pressure_pa == pytest.approx({"fl": 206842.72, "fr": 206842.72}, abs=1e-2)
    assert run.bump_clicks == {}


def test_a_corners_own_number_wins_over_its_axles(setup):
    assert setup("[clicks]\nfr = 9\nfront = 6\n").clicks == {"fl": 6, "fr": 9}


@pytest.mark.parametrize(("written", "from_soft"), [(0, 18), (18, 0), (5, 13)])
def test_clicks_counted_from_full_stiff(written, from_soft, setup):
    clicks = setup(f"[clicks]\nfl = {written}\nrear = 3\n", STIFF).clicks
    assert clicks == {"fl": from_soft, "rl": 3, "rr": 3}


def test_separate_knobs_count_by_their_own_highest_click(setup):
    run = setup("[bump_clicks]\nfront = 2\n[rebound_clicks]\nfront = 2\n", STIFF)
    assert run.bump_clicks == {"fl": 10, "fr": 10}
    assert run.rebound_clicks == {"fl": 18, "fr": 18}


def test_an_empty_setup_says_nothing(setup):
    assert setup("") == RunSetup()


def test_beyond_the_knob(setup):
    assert faults(setup, "[clicks]\nfront = 19\n") == (
        "drive.setup.toml: clicks.front: 19 is beyond the knob; the car file's front.clicks says"
        " 0 to 18"
    )


def test_from_full_stiff_without_a_highest_click(setup):
    car = replace(CAR, rear=replace(CAR.rear, clicks_from="stiff"))
    assert faults(setup, "[clicks]\nrl = 4\n", car) == (
        "drive.setup.toml: clicks.rl: counted from full stiff, so the car file must say"
        " rear.clicks, the highest click number"
    )


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (
            "[clicks]\nfront = -1\n",
            "clicks.front: -1 is impossible here: expected a whole number from 0 to 500",
        ),
        (
            '[clicks]\nfront = "6"\n',
            'clicks.front: "6" is not a whole number; write a whole number without unit or'
            " quotes, such as 6",
        ),
        ("[clicks]\nleft = 6\n", "clicks.left: unknown key; known are front, rear, fl, fr, rl, rr"),
        ("[cliks]\nfront = 6\n", "cliks: unknown section; did you mean clicks?"),
        ("clicks = 6\n", "clicks: 6 is not a section; write its keys below a line with its [name]"),
        (
            "[spring_rate]\nfront = 500\n",
            'spring_rate.front: 500 has no unit; write it like "450 lbf/in"',
        ),
        (
            '[tyre_pressure]\nfront = "30 lb"\n',
            'tyre_pressure.front: unit "lb" is not that of a pressure; write it like "30 psi"',
        ),
        (
            '[ride_height]\nfl = "655 m"\n',
            'ride_height.fl: "655 m" is impossible here: expected -0.5 to 2 m, such as "655 mm";'
            " check number and unit",
        ),
        ("note = 3\n", 'note: 3 is not text; write it in "quotes"'),
        (
            "[clicks\n",
            "line 1: not TOML: expected ']' at the end of a table declaration; a line reads"
            ' key = value, text stands in "quotes"',
        ),
    ],
)
def test_one_fault_is_one_line(text, line, setup):
    assert faults(setup, text) == f"drive.setup.toml: {line}"


def test_both_axles_faults_show_at_once(setup):
    car = replace(CAR, rear=AXLE)
    assert faults(setup, "[clicks]\nfront = 19\nrr = 20\n", car).count("beyond the knob") == 2


@pytest.mark.parametrize("log", ["drive.csv", "drive.csv.gz", "drive.txt", "drive.zip"])
def test_the_setup_file_is_found_beside_the_log(log, tmp_path):
    assert find_setup(tmp_path / log) is None
    (tmp_path / "drive.setup.toml").write_text("")
    assert find_setup(tmp_path / log) == tmp_path / "drive.setup.toml"


def test_dots_in_a_logs_name_are_part_of_it(tmp_path):
    (tmp_path / "run.2.setup.toml").write_text("")
    assert find_setup(tmp_path / "run.2.csv.gz") == tmp_path / "run.2.setup.toml"
    assert find_setup(tmp_path / "run.csv") is None
