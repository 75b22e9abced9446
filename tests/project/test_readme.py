"""The README keeps its word: every command in it runs, every file it shows is read."""

import re
import shlex
from pathlib import Path

import pytest

from ridelog.car.load import load_car
from ridelog.cli.main import COMMANDS, main
from ridelog.runs.load_setup import load_setup

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"^```{language}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def lines():
    return [line for block in blocks("sh") for line in block.splitlines()]


TOUR = tuple(line for line in lines() if line.startswith("ridelog "))


@pytest.fixture
def workplace(tmp_path, monkeypatch):
    """A folder that looks like a clone's from inside, so that nothing is written into the tree."""
    (tmp_path / "sample_logs").symlink_to(ROOT / "sample_logs")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(line):
    with pytest.raises(SystemExit) as leaving:
        main(shlex.split(line)[1:])
    assert leaving.value.code == 0


def on_sample_logs():
    for line in TOUR:
        if "ridelog-demo" not in line:
            heavy = line.startswith("ridelog analyze") and "simulated" in line
            yield pytest.param(line, marks=[pytest.mark.slow] if heavy else [])


@pytest.mark.parametrize("line", list(on_sample_logs()))
def test_tour_on_sample_logs(workplace, capsys, line):
    run(line)
    for option in ("--json", "--report", "--out"):
        words = shlex.split(line)
        if option in words:
            assert (workplace / words[words.index(option) + 1]).stat().st_size > 0


@pytest.mark.slow
def test_demo_and_what_follows_it(workplace, capsys):
    run("ridelog demo ridelog-demo")
    assert "Front: " in capsys.readouterr().out
    following = [line for line in TOUR if "ridelog-demo" in line]
    assert following
    for line in following:
        run(line)
    assert (workplace / "next.html").stat().st_size > 0


def test_set_up_takes_one_line_each():
    demo, tests = (line for line in lines() if line.startswith("python3 -m venv"))
    assert demo.endswith(".venv/bin/ridelog demo ridelog-demo")
    assert "'.[test]'" in tests
    assert tests.endswith("-m pytest -q")


def test_every_command_is_shown():
    shown = {shlex.split(line)[1] for line in TOUR} | {"demo"}
    assert shown == set(COMMANDS)


def test_car_and_setup_shown_are_read(tmp_path):
    car_text, springs_text, setup_text = blocks("toml")
    (tmp_path / "car.toml").write_text(f"{car_text}\n{springs_text}", encoding="utf-8")
    (tmp_path / "run.setup.toml").write_text(setup_text, encoding="utf-8")
    car = load_car(tmp_path / "car.toml")
    setup = load_setup(tmp_path / "run.setup.toml", car)
    # 390 kg x 9.80665 / 0.61 = 6269.8 N on a rate of 40 N/mm that rises by 35 N/mm in 120 mm: at
    # ride height sqrt(40^2 + 2 x 0.29167 x 6269.8) N/mm, as the helper closed at 2250 N.
    assert car.front.spring_rate_n_per_m == pytest.approx(72.51e3, rel=1e-3)
    assert car.front.spring_stack.stated_rate_n_per_m == pytest.approx(78807.1, abs=0.1)
    assert setup.clicks == {"fl": 6, "fr": 6, "rl": 8, "rr": 8}


def example_of(name, capsys):
    with pytest.raises(SystemExit):
        main([name, "--help"])
    text = " ".join(capsys.readouterr().out.split())
    return re.search(r"Example: (ridelog .*)$", text).group(1)


@pytest.mark.parametrize("name", [name for name in COMMANDS if name != "demo"])
def test_example_of_the_help_is_on_the_tour(capsys, name):
    """What is on the tour runs above."""
    example = example_of(name, capsys)
    assert example.split()[:2] == ["ridelog", name]
    assert any(line.startswith(example) for line in TOUR)
