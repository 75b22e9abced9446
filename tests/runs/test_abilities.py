"""Which questions which sensors answer; the rows are those of the README's table."""

from pathlib import Path

import numpy as np
import pytest

from ridelog.recording import (
    BODY_CHANNELS,
    HUB_CHANNELS,
    TRAVEL_CHANNELS,
    Recording,
    Source,
)
from ridelog.runs.abilities import abilities

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
AXLE_QUESTIONS = {"front_frequency_and_damping", "rear_frequency_and_damping"}
ALL = {*AXLE_QUESTIONS, "whole_car_bounce", "damper_force", "stop_contacts", "comfort"}
TABLE = {
    "travel and body": ((*TRAVEL_CHANNELS, *BODY_CHANNELS), "drive", ALL),
    "hub and body": ((*HUB_CHANNELS, *BODY_CHANNELS), "drive", ALL),
    "two body": (("body_fl", "body_rl"), "drive", ALL - {"damper_force"}),
    "travel": (TRAVEL_CHANNELS, "drive", ALL - {"damper_force", "comfort"}),
    "phone": (("cabin",), "drive", {"whole_car_bounce", "stop_contacts", "comfort"}),
    "one axle": (("body_fl", "body_fr"), "drive", {"whole_car_bounce", "stop_contacts", "comfort"}),
    "bounce": (BODY_CHANNELS, "bounce", {*AXLE_QUESTIONS, "whole_car_bounce"}),
    "bounce, one sensor": (("cabin",), "bounce", set()),
    "speed alone": (("speed",), "drive", set()),
}


def recording(names, rate_hz=200.0):
    zeros = np.zeros(50)
    return Recording(
        sample_rate_hz=rate_hz,
        channels={name: zeros for name in names},
        valid=np.ones(50, dtype=bool),
        source=Source(file="x.csv", layout="canonical"),
    )


@pytest.mark.parametrize("row", TABLE)
def test_table(row):
    names, kind, expected = TABLE[row]
    answers = abilities(recording(names), kind)
    assert {answer.key for answer in answers} == ALL
    assert {answer.key for answer in answers if answer.possible} == expected
    assert all(answer.reason for answer in answers)


def test_slow_log_says_so():
    answers = {a.key: a for a in abilities(recording(("cabin",), 17.0), "drive")}
    assert not answers["comfort"].possible
    assert answers["comfort"].reason == "sampled too slowly"
    assert not answers["whole_car_bounce"].possible


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("travel and body", "travel and body sensors together, the surest way"),
        ("hub and body", "hub and body sensors together"),
        ("two body", "body accelerometers over both axles; wide intervals"),
        ("travel", "travel alone; wide intervals"),
        ("bounce", "the decay after the push"),
        ("phone", "needs a body accelerometer over each axle, or travel sensors"),
    ],
)
def test_the_best_way_is_named(row, reason):
    names, kind, _ = TABLE[row]
    assert abilities(recording(names), kind)[0].reason == reason


README_ROWS = {
    "travel and body accelerometer at each corner": "travel and body",
    "hub and body accelerometers": "hub and body",
    "a body accelerometer over each axle": "two body",
    "travel at all four corners, nothing else": "travel",
    "one accelerometer, a phone on the floor": "phone",
    "body accelerometers, standing car pushed and let go": "bounce",
}


@pytest.mark.parametrize("words", README_ROWS)
def test_what_the_readme_promises_for_sensors_one_plans_to_buy(words):
    (line,) = [each for each in README.splitlines() if each.startswith(f"| {words} |")]
    _, axles, force, stops, comfort = (cell.strip() for cell in line.strip("|").split("|"))
    names, kind, _ = TABLE[README_ROWS[words]]
    possible = {answer.key for answer in abilities(recording(names), kind) if answer.possible}
    promised = {"damper_force": force, "stop_contacts": stops, "comfort": comfort}
    assert {key for key, cell in promised.items() if cell != "no"} == possible & set(promised)
    whole_car = "as a whole" in axles
    assert (possible >= AXLE_QUESTIONS) is not whole_car
    assert "whole_car_bounce" in possible
