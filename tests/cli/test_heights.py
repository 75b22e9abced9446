"""ridelog heights as a user and a script call it."""

import json
from html.parser import HTMLParser

import pytest

from ridelog.cli.main import main

CAR = """
[car]
name = "a made-up car"
wheelbase = "2.6 m"
[front]
layout = "independent"
track = "1.5 m"
sprung_mass = "600 kg"
unsprung_mass = "80 kg"
spring_rate = "60 N/mm"
motion_ratio = 0.7
tyre_rate = "200 N/mm"
perch_thread_pitch = "1.5 mm"
[rear]
layout = "solid"
damper_spacing = "1.0 m"
track = "1.4 m"
sprung_mass = "600 kg"
unsprung_mass = "120 kg"
spring_rate = "40 N/mm"
motion_ratio = 0.85
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "car.toml").write_text(CAR, encoding="utf-8")
    return tmp_path


def call(*arguments):
    with pytest.raises(SystemExit) as leaving:
        main(["heights", *map(str, arguments)])
    return leaving.value.code


def test_json_alone(folder, capsys):
    now = "655 mm, 651 mm, 640 mm, 646 mm"
    assert call(folder, "--now", now, "--weights", "330 kg, 350 kg", "--json", "-") == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    document = json.loads(printed.out)
    assert document["contract"] == 1
    corners = document["corners"]
    assert corners["fl"]["turns"]["low"] < corners["fl"]["turns"]["value"]
    assert corners["rl"]["turns"] is None
    assert corners["rl"]["perch_up_mm"]["value"] == pytest.approx(
        corners["rr"]["perch_up_mm"]["value"] * -1
    )
    assert document["scales"]["cross_weight_ratio"]["value"] == pytest.approx(0.5)
    assert sum(document["one_raise"]["fl"]["load_n"].values()) == pytest.approx(0, abs=1e-9)
    assert [pattern["keeps"] for pattern in document["patterns"]] == ["cross weight"] * 3 + [
        "all heights"
    ]


class Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.blanks = 0
        self.words = []

    def handle_starttag(self, tag, attrs):
        self.blanks += ("class", "blank") in attrs

    def handle_data(self, data):
        self.words.append(data)


def test_a_blank_sheet_can_be_filled_in(folder, capsys):
    assert call(folder, "--report", folder / "sheet.html") == 0
    reader = Reader()
    reader.feed((folder / "sheet.html").read_text(encoding="utf-8"))
    assert reader.blanks == 4 * 6
    text = " ".join(reader.words)
    for fact in ("Anti-seize", "gall", "Measure all four", "Dry polyurethane", "rated stands"):
        assert fact in text
    assert "...." in capsys.readouterr().out


def test_a_filled_sheet_says_the_turns(folder, capsys):
    page = folder / "sheet.html"
    assert (
        call(folder, "--now", "655 mm, 640 mm", "--want", "650 mm, 640 mm", "--report", page) == 0
    )
    assert "down 2.3 turns" in page.read_text(encoding="utf-8")  # 5 mm x 0.7 / 1.5 mm
    assert "down 2.3 turns" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--now", "655"], "--now: 1 figures; give four (fl fr rl rr) or two (front rear)"),
        (["--now", "655, 640 mm"], '--now: "655" has no unit'),
        (["--car", "nowhere.toml"], "nowhere.toml: there is no such file"),
        (["--setup", "nowhere.setup.toml"], "nowhere.setup.toml: "),
    ],
)
def test_faults_in_one_line(folder, capsys, arguments, words):
    assert call(folder, *arguments) == 2
    error = capsys.readouterr().err
    assert error.startswith(words)
    assert len(error.splitlines()) == 1
