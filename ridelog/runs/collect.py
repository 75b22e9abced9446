"""The runs of one car: its logs in the order they were driven, each with its setup and analysis."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from ridelog.car.description import Car
from ridelog.errors import CarFileError, FileError, UnknownLayoutError
from ridelog.estimate.result import AnalysisResult
from ridelog.runs.setup import RunSetup

CAR_FILE_NAME = "car.toml"
LOG_SUFFIXES = (".csv", ".tsv", ".csv.gz", ".tsv.gz", ".csv.zip", ".zip", ".parquet")


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One log of the car, what was set for it (None where nothing was written) and what it tells.

    `file` is the log's name without its folder.
    """

    file: str
    path: Path
    setup: RunSetup | None
    analysis: AnalysisResult


def collect_runs(
    paths: Iterable[Path], car_path: Path | None, progress: Callable[[str], None] | None = None
) -> tuple[Car, tuple[Run, ...]]:
    """Analyze the logs of one car, in the order they were driven.

    Parameters
    ----------
    paths : iterable of Path
        Logs and folders of logs, mixed as the owner likes. A log named twice counts once.
    car_path : Path or None
        The car file; ``car.toml`` beside the first log where None.
    progress : callable, optional
        Told in one line what is being read, and what was passed over and why.

    Returns
    -------
    tuple of Car and tuple of Run
        The car and its runs: by the date in the setup file, then by name (2 before 10). Runs
        without a date come first: a forgotten setup must not pass for the latest one.

    Raises
    ------
    FileError
        A path does not exist, a folder holds no log, or a log or setup file is at fault. A file of
        a folder that no reader takes for a log is passed over; a log named by itself is not.
    CarFileError
        The car file is missing or at fault.
    """
    # Readers and estimators are heavy; whoever only wants the type `Run` shall not load them.
    from ridelog.car.load import load_car
    from ridelog.runs.analyze import analyze_log

    tell = progress or (lambda line: None)
    logs = _find_logs(tuple(Path(path) for path in paths))
    car_file = car_path or next(iter(logs)).parent / CAR_FILE_NAME
    if not car_file.is_file():
        raise CarFileError(
            car_file, (f"not found in {car_file.parent}; put it there or name it with --car",)
        )
    car = load_car(car_file)
    setups = {log: _setup_of(log, car) for log in logs}
    runs: list[Run] = []
    for log in sorted(logs, key=lambda path: _order(path, setups[path])):
        tell(f"reading {log.name}")
        try:
            analysis = analyze_log(log, car, setups[log])
        except UnknownLayoutError as error:
            if logs[log] == "named":
                raise
            tell(f"passed over {error}")
            continue
        runs.append(Run(file=log.name, path=log, setup=setups[log], analysis=analysis))
    if not runs:
        first = next(iter(logs))
        raise FileError(first.parent, "no file in it could be read as a log; see `ridelog check`")
    return car, tuple(runs)


def _find_logs(paths: tuple[Path, ...]) -> dict[Path, str]:
    """List the logs in the order found, each with how it was found: ``named`` or ``folder``."""
    found: dict[Path, str] = {}
    for path in paths:
        if path.is_dir():
            inside = [p for p in sorted(path.iterdir()) if _looks_like_log(p)]
            if not inside:
                raise FileError(path, f"holds no log (files ending in {', '.join(LOG_SUFFIXES)})")
            for log in inside:
                found.setdefault(log.resolve(), "folder")
        elif path.is_file():
            found[path.resolve()] = "named"
        else:
            raise FileError(path, "not found; name a log or a folder of logs")
    if not found:
        raise FileError(Path(), "no log named; name a log or a folder of logs")
    return found


def _looks_like_log(path: Path) -> bool:
    """Whether a file of a folder may be a log, by its name."""
    name = path.name.lower()
    return path.is_file() and not name.startswith((".", "~")) and name.endswith(LOG_SUFFIXES)


def _setup_of(log: Path, car: Car) -> RunSetup | None:
    """Read what was set for a log, or None without a setup file."""
    from ridelog.runs.load_setup import find_setup, load_setup

    setup_path = find_setup(log)
    return None if setup_path is None else load_setup(setup_path, car)


def _order(log: Path, setup: RunSetup | None) -> tuple[str, list[tuple[int, str]]]:
    """Sort key: date (none first), then the name with its numbers counted, not spelled."""
    parts = re.split(r"(\d+)", log.name.lower())
    natural = [(int(p), "") if p.isdigit() else (-1, p) for p in parts]
    return (setup.date if setup and setup.date else "", natural)
