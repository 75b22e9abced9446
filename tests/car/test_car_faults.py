"""Each fault in a car file is one line: file, key, what was found, what to do."""

from __future__ import annotations

import pytest

from ridelog.car.load import load_car
from ridelog.errors import CarFileError

FAULTS = {
    "bare number": (
        ('"450 lbf/in"', "450"),
        'front.spring_rate: 450 has no unit; write it like "450 lbf/in"',
    ),
    "number as text without unit": (
        ('"2.794 m"', '"2.794"'),
        'car.wheelbase: "2.794" has no unit; write it like "2.794 m"',
    ),
    "unit of another kind": (
        ('"780 kg"', '"780 N"'),
        'front.sprung_mass: unit "N" is not that of a mass; write it like "780 kg"',
    ),
    "unknown unit": (
        ('"42 mm"', '"42 mn"'),
        'front.bump_gap: unit "mn" is not known; write a length like "42 mm"',
    ),
    "decimal comma": (
        ('"1.52 m"', '"1,52 m"'),
        'front.track: "1,52 m" has a comma in the number; write a point instead',
    ),
    "unknown key": (
        ("bump_gap", "bump_gab"),
        "front.bump_gab: unknown key; did you mean bump_gap?",
    ),
    "missing key": (
        ('track = "1.52 m"\n', ""),
        'front.track: missing; add a line such as track = "1.52 m"',
    ),
    "negative mass": (
        ('"780 kg"', '"-780 kg"'),
        'front.sprung_mass: "-780 kg" is impossible here: expected 20 to 20000 kg, such as'
        ' "780 kg"; check number and unit',
    ),
    "slip of unit": (
        ('"2.794 m"', '"2.794 mm"'),
        'car.wheelbase: "2.794 mm" is impossible here: expected 0.8 to 10 m, such as "2.794 m";'
        " check number and unit",
    ),
    "motion ratio upside down": (
        ("motion_ratio = 0.61", "motion_ratio = 6.1"),
        "front.motion_ratio: 6.1 is impossible here: expected a number from 0.2 to 2",
    ),
    "motion ratio as text": (
        ("motion_ratio = 0.61", 'motion_ratio = "0.61"'),
        'front.motion_ratio: "0.61" is not a number; write a number without unit or quotes,'
        " such as 0.61",
    ),
    "negative clicks": (
        ("clicks = 18", "clicks = -1"),
        "front.clicks: -1 is impossible here: expected a whole number from 0 to 500",
    ),
    "half a click": (
        ("clicks = 18", "clicks = 18.5"),
        "front.clicks: 18.5 is not a whole number; write a whole number without unit or quotes,"
        " such as 18",
    ),
    "yes as a number": (
        ("clicks = 18", "clicks = true"),
        "front.clicks: True is not a whole number; write a whole number without unit or quotes,"
        " such as 18",
    ),
    "not a number at all": (
        ("motion_ratio = 0.61", "motion_ratio = nan"),
        "front.motion_ratio: nan is impossible here: expected a number from 0.2 to 2",
    ),
    "damping target in percent": (
        ("= 0.35", "= 35"),
        "front.target_damping_ratio: 35 is impossible here: expected a number from 0.01 to 2",
    ),
    "unknown layout": (
        ('"independent"', '"live"'),
        'front.layout: "live" is not possible here; write "independent" or "solid"',
    ),
    "empty name": (('"Saturday wagon"', '""'), 'car.name: "" is empty; write a name'),
    "no damper spacing": (
        ('damper_spacing = "1.05 m"\n', ""),
        "rear.damper_spacing: missing; a solid axle needs the distance between its dampers, such"
        ' as damper_spacing = "1.05 m"',
    ),
    "dampers outside the wheels": (
        ('"1.05 m"', '"1.6 m"'),
        'rear.damper_spacing: "1.6 m" is more than the track "60 in"; the dampers of a solid axle'
        " stand between the wheels",
    ),
    "unknown section": (
        ("[front]", "[fornt]\nx = 1\n[front]"),
        "fornt: unknown section; did you mean front?",
    ),
}


@pytest.mark.parametrize(("change", "line"), FAULTS.values(), ids=FAULTS.keys())
def test_one_fault_is_one_line(change, line, write):
    with pytest.raises(CarFileError) as error:
        load_car(write(change))
    assert str(error.value) == f"car.toml: {line}"


LOGGER_FAULTS = {
    "unknown channel": (
        'travel_front = { column = "A0", unit = "mm" }',
        "logger.channels.travel_front: unknown channel; did you mean travel_fr?",
    ),
    "unit of another kind": (
        'body_fl = { column = "A0", unit = "mm" }',
        'logger.channels.body_fl.unit: unit "mm" is not that of an acceleration; write it like'
        ' "9.81 m/s^2"',
    ),
    "half a sign": (
        'body_fl = { column = "A0", unit = "g", sign = 0.5 }',
        "logger.channels.body_fl.sign: 0.5 is not possible here; write 1 or -1",
    ),
    "no column": (
        'body_fl = { unit = "g" }',
        'logger.channels.body_fl.column: missing; add a line such as column = "az1"',
    ),
    "one point": (
        'travel_fl = { column = "A0", unit = "V", points = [["0.5 V", "-48 mm"]] }',
        "logger.channels.travel_fl.points: needs two or more pairs of reading and value, such as"
        ' [["0.52 V", "-48 mm"], ["4.41 V", "61 mm"]]',
    ),
    "points that turn back": (
        'travel_fl = { column = "A0", points = [[1, "0 mm"], [2, "9 mm"], [3, "4 mm"]] }',
        "logger.channels.travel_fl.points: the values rise and fall again with rising reading; a"
        " sensor goes one way, check them",
    ),
    "points with one reading": (
        'travel_fl = { column = "A0", points = [[1, "0 mm"], [1, "9 mm"]] }',
        "logger.channels.travel_fl.points: two points have the same reading; remove one",
    ),
    "reading in another unit": (
        'travel_fl = { column = "A0", unit = "V", points = [["1 mm", "0 mm"], ["2 V", "9 mm"]] }',
        'logger.channels.travel_fl.points: unit "mm" is not that of a reading in "V"; write it'
        ' like "0.52 V"',
    ),
    "points and scale": (
        'travel_fl = { column = "A0", points = [[1, "0 mm"], [2, "9 mm"]], scale = 2 }',
        "logger.channels.travel_fl.points: points and scale or offset say the same twice; keep one",
    ),
    "range upside down": (
        'speed = { column = "v", unit = "m/s", valid_range = ["80 m/s", "0 m/s"] }',
        'logger.channels.speed.valid_range: needs [lowest, highest], such as ["0 m/s", "100 m/s"]',
    ),
}


@pytest.mark.parametrize(("channel", "line"), LOGGER_FAULTS.values(), ids=LOGGER_FAULTS.keys())
def test_one_fault_in_the_logger_section_is_one_line(channel, line, write):
    with pytest.raises(CarFileError) as error:
        load_car(write(more=f"[logger.channels]\n{channel}\n"))
    assert str(error.value) == f"car.toml: {line}"


def test_samples_without_a_rate(write):
    with pytest.raises(CarFileError) as error:
        load_car(write(more='[logger]\ntime = { column = "n", unit = "samples" }\n'))
    assert str(error.value) == (
        'car.toml: logger.time: a column in samples needs sample_rate in [logger], such as "500 Hz"'
    )


def test_a_time_column_in_millimetres(write):
    with pytest.raises(CarFileError) as error:
        load_car(write(more='[logger]\ntime = { column = "n", unit = "mm" }\n'))
    assert str(error.value) == (
        'car.toml: logger.time.unit: unit "mm" is not that of a time; write it like "1.5 ms",'
        ' or as "samples" or "ISO 8601"'
    )


def test_all_faults_show_at_once(write):
    path = write(
        ('"450 lbf/in"', "450"),
        ("motion_ratio = 0.75", "motion_ratio = 75"),
        ('damper_spacing = "1.05 m"\n', ""),
        more='[logger.channels]\nbody_xx = { column = "a" }\nbody_fl = { unit = "g" }\n',
    )
    with pytest.raises(CarFileError) as error:
        load_car(path)
    assert [fault.partition(":")[0] for fault in error.value.faults] == [
        "front.spring_rate",
        "rear.motion_ratio",
        "logger.channels.body_fl.column",
        "rear.damper_spacing",
        "logger.channels.body_xx",
    ]
    assert str(error.value).count("\ncar.toml: ") == 4


def test_a_missing_axle(write):
    path = write()
    path.write_text(path.read_text().partition("[rear]")[0])
    with pytest.raises(CarFileError) as error:
        load_car(path)
    assert str(error.value) == (
        "car.toml: rear: missing section; add [rear] with layout, track, sprung_mass,"
        " unsprung_mass, spring_rate, motion_ratio"
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            b"[car]\nname = \n",
            "car.toml: line 2: not TOML: invalid value; a line reads key = value, text stands in"
            ' "quotes"',
        ),
        (
            b'[car]\nname = "a"\nname = "b"\n',
            "car.toml: line 3: not TOML: cannot overwrite a value; a line reads key = value, text"
            ' stands in "quotes"',
        ),
        (
            b"[car]\nname = '\xe9t\xe9'\n",
            "car.toml: line 2: not UTF-8 text; save the file with encoding UTF-8",
        ),
        (b"x = " + b"[" * 100_000, "car.toml: not TOML: brackets nested too deeply"),
        (b" " * 1_000_001, "car.toml: larger than 1 MB; this is some other file"),
    ],
    ids=["syntax", "twice", "encoding", "nested", "large"],
)
def test_what_is_no_toml(text, message, tmp_path):
    path = tmp_path / "car.toml"
    path.write_bytes(text)
    with pytest.raises(CarFileError) as error:
        load_car(path)
    assert str(error.value) == message


def test_missing_file_and_folder(tmp_path):
    with pytest.raises(CarFileError) as error:
        load_car(tmp_path / "car.toml")
    assert str(error.value) == f"car.toml: no such file in {tmp_path.resolve()}"
    with pytest.raises(CarFileError) as error:
        load_car(tmp_path)
    assert str(error.value) == f"{tmp_path.name}: is a folder; name the file in it"
