"""Which logs are a car's runs, and in which order."""

from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from ridelog.car.description import Car
from ridelog.errors import BadRowError, CarFileError, FileError, UnknownLayoutError
from ridelog.runs.collect import collect_runs
from ridelog.runs.setup import RunSetup

CAR = """
[car]
name = "made-up saloon"
wheelbase = "2.7 m"
""" + "".join(
    f"""
[{axle}]
layout = "independent"
track = "1.5 m"
sprung_mass = "800 kg"
unsprung_mass = "90 kg"
spring_rate = "325 lbf/in"
motion_ratio = 0.7
clicks = 18
"""
    for axle in ("front", "rear")
)


@pytest.fixture
def garage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a car file; logs are analyzed by a stand-in that reads their first word."""

    def analyze_log(log: Path, car: Car, setup: RunSetup | None) -> str:
        word = log.read_text().split()[0]
        if word == "strange":
            raise UnknownLayoutError(log, "no reader takes it")
        if word == "torn":
            raise BadRowError(log, 3, "looks cut off")
        return f"analysis of {word}"

    monkeypatch.setitem(
        sys.modules, "ridelog.runs.analyze", SimpleNamespace(analyze_log=analyze_log)
    )
    (tmp_path / "car.toml").write_text(CAR)
    return tmp_path


def put(folder: Path, name: str, date: str | None = None, text: str = "log") -> Path:
    """A log, with a setup beside it where a date is given."""
    folder.mkdir(exist_ok=True)
    log = folder / name
    log.write_text(text)
    if date:
        (folder / f"{name.split('.')[0]}.setup.toml").write_text(
            f"date = {date}\n[clicks]\nfront = 6\nrear = 8\n"
        )
    return log


def names(runs: tuple[object, ...]) -> list[str]:
    """File names in order."""
    return [run.file for run in runs]  # type: ignore[attr-defined]


def test_by_date_then_by_name_with_numbers_counted(garage: Path) -> None:
    put(garage, "run10.csv", "2026-05-02")
    put(garage, "run2.csv", "2026-05-02")
    put(garage, "zero.csv", "2026-05-01")
    put(garage, "undated.csv")
    car, runs = collect_runs([garage], None)
    assert names(runs) == ["undated.csv", "zero.csv", "run2.csv", "run10.csv"]
    assert car.name == "made-up saloon"
    assert runs[0].setup is None
    assert runs[1].setup is not None
    assert runs[1].setup.clicks["fl"] == 6
    assert runs[1].analysis == "analysis of log"


def test_only_logs_of_a_folder(garage: Path) -> None:
    put(garage, "run1.csv")
    put(garage, "run2.csv.gz")
    for other in ("notes.txt", "run1.setup.toml", "report.html", ".hidden.csv", "run1.json"):
        (garage / other).write_text("")
    (garage / "old.csv").mkdir()
    assert names(collect_runs([garage], None)[1]) == ["run1.csv", "run2.csv.gz"]


def test_folders_and_logs_mixed_count_once(garage: Path) -> None:
    inside = put(garage, "a.csv")
    outside = put(garage / "later", "b.csv")
    runs = collect_runs([garage, inside, outside], None)[1]
    assert names(runs) == ["a.csv", "b.csv"]


def test_strange_file_is_passed_over_in_a_folder_and_told(garage: Path) -> None:
    put(garage, "a.csv")
    strange = put(garage, "prices.csv", text="strange")
    lines: list[str] = []
    assert names(collect_runs([garage], None, lines.append)[1]) == ["a.csv"]
    assert "passed over prices.csv: no reader takes it" in lines
    with pytest.raises(UnknownLayoutError):
        collect_runs([strange], None)


def test_torn_log_is_an_error_in_one_line(garage: Path) -> None:
    put(garage, "a.csv")
    put(garage, "b.csv", text="torn")
    with pytest.raises(BadRowError) as caught:
        collect_runs([garage], None)
    assert str(caught.value) == "b.csv: line 3: looks cut off"


def test_only_strange_files(garage: Path) -> None:
    put(garage, "a.csv", text="strange")
    with pytest.raises(FileError, match="no file in it could be read as a log"):
        collect_runs([garage], None)


def test_missing_things_are_told_with_the_remedy(garage: Path, tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"gone\.csv: not found; name a log or a folder of logs"):
        collect_runs([garage / "gone.csv"], None)
    with pytest.raises(FileError, match="holds no log"):
        collect_runs([garage], None)
    with pytest.raises(FileError, match="no log named"):
        collect_runs([], None)
    alone = put(tmp_path / "elsewhere", "a.csv")
    with pytest.raises(CarFileError, match=r"car\.toml: not found in .*; .*--car"):
        collect_runs([alone], None)
    assert names(collect_runs([alone], garage / "car.toml")[1]) == ["a.csv"]
