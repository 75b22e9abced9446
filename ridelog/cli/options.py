"""Arguments and options that several commands share, so that each means one thing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from ridelog.errors import CarFileError, FileError

Command = TypeVar("Command", bound=Callable[..., Any])

CAR_FILE_NAME = "car.toml"
STANDARD_OUTPUT = Path("-")

ANY_PATH = click.Path(path_type=Path)

log_argument = click.argument("log", type=ANY_PATH)
car_option = click.option(
    "--car", "car_file", type=ANY_PATH, metavar="FILE", help="Car file; car.toml beside the log."
)
setup_option = click.option(
    "--setup",
    "setup_file",
    type=ANY_PATH,
    metavar="FILE",
    help="What was set for this run; <log's name>.setup.toml beside the log.",
)
json_option = click.option(
    "--json",
    "json_file",
    type=ANY_PATH,
    metavar="FILE",
    help="Write JSON there; - prints it alone on standard output.",
)
report_option = click.option(
    "--report", "report_file", type=ANY_PATH, metavar="FILE", help="Write one HTML page there."
)


def find_log(log: Path) -> Path:
    """Make sure a log is there before anything heavy is loaded.

    Parameters
    ----------
    log : Path
        The log as the user named it.

    Raises
    ------
    FileError
        There is no such file, or it is a folder.
    """
    if log.is_dir():
        raise FileError(log, "is a folder; name one log in it (ridelog advise takes folders)")
    if not log.exists():
        raise FileError(log, f"there is no such file in {log.parent.absolute()}")
    return log


def find_car(log: Path, car_file: Path | None) -> Path:
    """Find the car file: the one named, or car.toml beside the log.

    Parameters
    ----------
    log : Path
        The log.
    car_file : Path or None
        What the user named.

    Raises
    ------
    CarFileError
        There is no such file.
    """
    path = car_file or log.parent / CAR_FILE_NAME
    if not path.is_file():
        where = path.parent.absolute()
        raise CarFileError(
            path,
            (f"there is no such file in {where}; describe the car there or name it with --car",),
        )
    return path


def find_car_in(place: Path, car_file: Path | None) -> Path:
    """Find the car file: the one named, else `place` itself or car.toml in it.

    Parameters
    ----------
    place : Path
        A folder, or the car file itself.
    car_file : Path or None
        What the user named beside it.

    Raises
    ------
    CarFileError
        There is no such file.
    FileError
        There is no such folder.
    """
    if not place.exists():
        raise FileError(place, f"there is no such folder in {place.parent.absolute()}")
    if car_file is None and place.is_file():
        return place
    return find_car(place / CAR_FILE_NAME, car_file)
