"""Read the setup file beside a log: what was set for that run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ridelog.car.by_corner import by_corner, keys_by_corner
from ridelog.car.description import Car
from ridelog.car.toml_file import read_toml
from ridelog.errors import SetupFileError
from ridelog.recording import AXLE_OF_CORNER
from ridelog.runs.setup import RunSetup

if TYPE_CHECKING:
    from pydantic import BaseModel

KNOBS = {
    "clicks": "clicks",
    "bump_clicks": "bump_clicks",
    "rebound_clicks": "rebound_clicks",
    "low_speed_bump_clicks": "bump_clicks",
    "low_speed_rebound_clicks": "rebound_clicks",
    "high_speed_bump_clicks": "high_speed_bump_clicks",
    "high_speed_rebound_clicks": "high_speed_rebound_clicks",
}
"""Sections of a setup file and the knob each one is about."""

_PACKED_SUFFIXES = (".gz", ".zip")


def find_setup(log_path: Path) -> Path | None:
    """Find the setup file beside a log: ``drive.setup.toml`` for ``drive.csv`` or ``drive.csv.gz``.

    Parameters
    ----------
    log_path : Path
        The log.

    Returns
    -------
    Path or None
        The setup file; None where there is none.
    """
    unpacked = log_path.with_suffix("") if log_path.suffix.lower() in _PACKED_SUFFIXES else log_path
    names = (f"{unpacked.stem}.setup.toml", f"{unpacked.name}.setup.toml")
    found = (log_path.with_name(name) for name in names)
    return next((path for path in found if path.is_file()), None)


def load_setup(path: Path, car: Car) -> RunSetup:
    """Read a setup file.

    Parameters
    ----------
    path : Path
        The TOML file.
    car : Car
        The car; says where its owner counts clicks from, and how far each knob goes.

    Returns
    -------
    RunSetup
        Everything by corner, in SI, clicks counted from full soft.

    Raises
    ------
    SetupFileError
        When the file cannot be read or has faults; one line for each fault.
    """
    from pydantic import ValidationError

    from ridelog.car.faults import fault_lines
    from ridelog.runs.setup_schema import SetupFile

    content = read_toml(path, SetupFileError)
    try:
        checked = SetupFile.model_validate(content)
    except ValidationError as error:
        raise SetupFileError(path, fault_lines(error, SetupFile)) from None
    faults: list[str] = []
    knobs: dict[str, dict[str, int]] = {knob: {} for knob in KNOBS.values()}
    for name, knob in KNOBS.items():
        knobs[knob].update(_clicks(name, getattr(checked, name), car, faults))
    if faults:
        raise SetupFileError(path, tuple(faults))
    return RunSetup(
        date=None if checked.date is None else str(checked.date),
        note=checked.note,
        clicks=knobs["clicks"],
        bump_clicks=knobs["bump_clicks"],
        rebound_clicks=knobs["rebound_clicks"],
        high_speed_bump_clicks=knobs["high_speed_bump_clicks"],
        high_speed_rebound_clicks=knobs["high_speed_rebound_clicks"],
        spring_rate_n_per_m=by_corner(checked.spring_rate),
        ride_height_m=by_corner(checked.ride_height),
        corner_weight_kg=by_corner(checked.corner_weight),
        tyre_pressure_pa=by_corner(checked.tyre_pressure),
    )


def _clicks(name: str, section: BaseModel, car: Car, faults: list[str]) -> dict[str, int]:
    """Count one kind of knob's clicks from full soft, corner by corner."""
    counted = {}
    for corner, key in keys_by_corner(section).items():
        axle = car.axle(AXLE_OF_CORNER[corner])
        written: int = getattr(section, key)
        highest: int | None = getattr(axle, KNOBS[name])
        fault = _knob_fault(written, highest, axle.clicks_from, f"{AXLE_OF_CORNER[corner]}.{name}")
        if fault is not None:
            faults.append(f"{name}.{key}: {fault}")
        counted[corner] = (highest or 0) - written if axle.clicks_from == "stiff" else written
    faults[:] = dict.fromkeys(faults)
    return counted


def _knob_fault(written: int, highest: int | None, counted_from: str, key: str) -> str | None:
    """Say why a click number cannot be, if it cannot."""
    if highest is None and counted_from == "stiff":
        return f"counted from full stiff, so the car file must say {key}, the highest click number"
    if highest is not None and written > highest:
        return f"{written} is beyond the knob; the car file's {key} says 0 to {highest}"
    return None
