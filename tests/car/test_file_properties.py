"""Whatever stands in a car or setup file, the outcome is a car, a setup or plain sentences."""

from __future__ import annotations

import tempfile
from contextlib import suppress
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from ridelog.car.load import load_car
from ridelog.errors import CarFileError, SetupFileError
from ridelog.runs.load_setup import load_setup
from ridelog.units import KINDS, QuantityError, parse_quantity

SLOW_MACHINE = settings(max_examples=120, deadline=None, derandomize=True)
CAR = """\
[car]
name = "Saturday wagon"
wheelbase = "2.794 m"
[front]
layout = "independent"
track = "1.52 m"
sprung_mass = "780 kg"
unsprung_mass = "86 kg"
spring_rate = "450 lbf/in"
motion_ratio = 0.61
[rear]
layout = "solid"
track = "1.52 m"
sprung_mass = "590 kg"
unsprung_mass = "150 kg"
spring_rate = "200 lbf/in"
motion_ratio = 0.75
damper_spacing = "1.05 m"
[logger]
time = { column = "t", unit = "ms" }
[logger.channels]
travel_fl = { column = "A0", unit = "V", points = [["0.52 V", "-48 mm"], ["4.41 V", "61 mm"]] }
"""
SETUP = '[clicks]\nfront = 3\n[spring_rate]\nfl = "500 lbf/in"\n'
values = st.one_of(
    st.integers(-10, 10**30),
    st.floats(),
    st.booleans(),
    st.text(max_size=8),
    st.sampled_from(["450 lbf/in", "[1, 2]", "{ a = 1 }", "1979-05-27", "[[]]", "nan", "'x'"]),
)


def write(folder: str, name: str, text: str) -> Path:
    path = Path(folder) / name
    path.write_bytes(text.encode("utf-8", errors="surrogatepass"))
    return path


def check(error: CarFileError, name: str) -> None:
    assert error.faults
    assert str(error) == "\n".join(f"{name}: {fault}" for fault in error.faults)
    for fault in error.faults:
        assert fault.strip()
        assert "\n" not in fault
        assert "pydantic" not in fault


def swapped(text: str, line: int, value: object) -> str:
    lines = text.splitlines()
    key, equals, _ = lines[line % len(lines)].partition("=")
    if equals:
        lines[line % len(lines)] = f"{key}= {value}"
    return "\n".join(lines)


@SLOW_MACHINE
@given(line=st.integers(0, 30), value=values)
def test_any_value_in_any_line_of_a_car_file(line, value):
    with tempfile.TemporaryDirectory() as folder:
        path = write(folder, "car.toml", swapped(CAR, line, value))
        try:
            car = load_car(path)
        except CarFileError as error:
            check(error, "car.toml")
        else:
            assert 0.2 <= car.front.motion_ratio <= 2


@SLOW_MACHINE
@given(place=st.integers(0, len(CAR)), length=st.integers(0, 30), piece=st.text(max_size=6))
def test_any_damage_to_a_car_file(place, length, piece):
    with tempfile.TemporaryDirectory() as folder:
        path = write(folder, "car.toml", CAR[:place] + piece + CAR[place + length :])
        try:
            load_car(path)
        except CarFileError as error:
            check(error, "car.toml")


@SLOW_MACHINE
@given(line=st.integers(0, 4), value=values)
def test_any_value_in_any_line_of_a_setup_file(line, value):
    with tempfile.TemporaryDirectory() as folder:
        car = load_car(write(folder, "car.toml", CAR))
        path = write(folder, "drive.setup.toml", swapped(SETUP, line, value))
        try:
            run = load_setup(path, car)
        except SetupFileError as error:
            check(error, "drive.setup.toml")
        else:
            assert all(clicks >= 0 for clicks in run.clicks.values())


@settings(max_examples=400, deadline=None, derandomize=True)
@given(text=st.one_of(st.text(max_size=20), st.from_regex(r"-?[0-9.]{1,6} ?[a-z/^0-9 *²]{0,9}")))
def test_any_text_is_a_quantity_or_a_fault(text):
    for kind in KINDS:
        with suppress(QuantityError):
            assert abs(parse_quantity(text, kind)) < float("inf")
