"""ridelog plan as a user and a script call it."""

import json
from pathlib import Path

import pytest

from ridelog.cli.main import main

ESTATE = Path(__file__).parents[2] / "sample_logs" / "simulated_estate"
CAR = ("--car", str(ESTATE / "car.toml"))


def call(*arguments):
    with pytest.raises(SystemExit) as leaving:
        main(["plan", *map(str, arguments)])
    return leaving.value.code


def test_json_alone(capsys):
    assert call(*CAR, "--sensors", "body", "--frequency", "5%", "--json", "-") == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    document = json.loads(printed.out)
    assert document["contract"] == 1
    assert document["bounce_test"] is True
    assert {need["quantity"] for need in document["intervals"]} == {"body_frequency_hz"}
    assert document["drive"]["iso8608_class"] in "ABCD"
    assert document["cautions"]


def test_page_and_terminal_say_the_same(tmp_path, capsys):
    page = tmp_path / "plan.html"
    assert call(*CAR, "--sensors", "travel, body, hub, body_lat", "--report", page) == 0
    text = page.read_text(encoding="utf-8")
    printed = capsys.readouterr().out
    for words in ("Bounce test", "One hump", "roll gradient", "passenger"):
        assert words in text
        assert words in printed
    assert 'class="steps"' in text


@pytest.mark.slow
def test_an_earlier_run_counts(capsys):
    log = ESTATE / "estate_two_accel_sim.csv.gz"
    assert call(log, "--frequency", "3 %", "--json", "-") == 0
    document = json.loads(capsys.readouterr().out)
    assert document["sensors"] == "body"
    assert {need["source"] for need in document["intervals"]} == {f"measured in {log.name}"}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((*CAR, "--sensors", "boddy"), '--sensors: "boddy" is no sensor; did you mean body?'),
        ((*CAR, "--sensors", "body", "--damping", "5"), '--damping: "5" has no unit'),
        ((*CAR, "--sensors", "body", "--damping", "500 %"), '--damping: "500 %" is impossible'),
        ((*CAR,), "no sensors known"),
        (("--car", "nowhere.toml"), "nowhere.toml: there is no such file"),
    ],
)
def test_faults_in_one_line(capsys, arguments, words):
    assert call(*arguments) == 2
    error = capsys.readouterr().err
    assert error.startswith(words)
    assert len(error.splitlines()) == 1
