"""Ride heights and corner weights from wherever the owner wrote them: call, setup, car file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ridelog.car.description import Car
from ridelog.errors import RidelogError
from ridelog.recording import CORNERS
from ridelog.runs.load_setup import load_setup

if TYPE_CHECKING:
    from ridelog.car.fields import QuantityText
    from ridelog.runs.setup import RunSetup

SETUP_PATTERN = "*.setup.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedHeights:
    """What the call itself says, as typed; four texts each, or two for front and rear."""

    before: Sequence[str] = ()
    now: Sequence[str] = ()
    wanted: Sequence[str] = ()
    weight: Sequence[str] = ()
    cross_weight: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightFigures:
    """Heights [m] and weights [kg] by corner, all four or none, and where they come from."""

    before_m: Mapping[str, float]
    now_m: Mapping[str, float]
    wanted_m: Mapping[str, float]
    weight_kg: Mapping[str, float]
    wanted_cross_weight: float
    remarks: tuple[str, ...]


def height_figures(
    car: Car, stated: StatedHeights, setup_path: Path | None, folder: Path
) -> HeightFigures:
    """Gather what is known: the call first, then the setup file, then the car file.

    Parameters
    ----------
    car : Car
        The car.
    stated : StatedHeights
        What the call says.
    setup_path : Path or None
        The setup file to take heights from; the latest of `folder` that holds any where None.
    folder : Path
        Where the car's setup files lie.

    Raises
    ------
    RidelogError
        A figure of the call cannot be read; the message names its option.
    SetupFileError
        A setup file is at fault.
    """
    remarks: list[str] = []
    setups = _setups(setup_path, folder, car)
    before = _corners("--before", stated.before, "height") or _whole(
        car.ride_height_m, "[ride_height] of the car file", remarks
    )
    now = _corners("--now", stated.now, "height")
    for name, setup in () if now else setups:
        now = _whole(setup.ride_height_m, f"[ride_height] of {name}", remarks)
        if now:
            remarks.append(f"Present heights are those of {name}.")
            break
    if before and not now:
        now = before
        remarks.append("Turns are reckoned from the heights before the work: no newer ones given.")
    weight = _corners("--weights", stated.weight, "weight")
    for name, setup in () if weight else setups:
        weight = _whole(setup.corner_weight_kg, f"[corner_weight] of {name}", remarks)
        if weight:
            remarks.append(f"Corner weights are those of {name}.")
            break
    return HeightFigures(
        before_m=before,
        now_m=now,
        wanted_m=_corners("--want", stated.wanted, "height")
        or _whole(car.target_ride_height_m, "[target_ride_height] of the car file", remarks),
        weight_kg=weight
        or _whole(car.corner_weight_kg, "[corner_weight] of the car file", remarks),
        wanted_cross_weight=_share(stated.cross_weight),
        remarks=tuple(remarks),
    )


def _setups(setup_path: Path | None, folder: Path, car: Car) -> list[tuple[str, RunSetup]]:
    """Setup files to look into, the latest first."""
    if setup_path is not None:
        return [(setup_path.name, load_setup(setup_path, car))]
    found = [(path.name, load_setup(path, car)) for path in sorted(folder.glob(SETUP_PATTERN))]
    return sorted(found, key=lambda each: (each[1].date or "", each[0]), reverse=True)


def _whole(values: Mapping[str, float], where: str, remarks: list[str]) -> dict[str, float]:
    """Take figures of all four corners; remark on those of fewer."""
    if values and len(values) < len(CORNERS):
        missing = ", ".join(corner for corner in CORNERS if corner not in values)
        remarks.append(f"{where} lacks {missing}: all four corners are needed, so it is left out.")
        return {}
    return dict(values)


def _corners(option: str, texts: Sequence[str], kind: str) -> dict[str, float]:
    if not texts:
        return {}
    four = [texts[0], texts[0], texts[1], texts[1]] if len(texts) == 2 else list(texts)
    if len(four) != len(CORNERS):
        raise RidelogError(
            f"{option}: {len(texts)} figures; give four (fl fr rl rr) or two (front rear), "
            f"such as {option} {_example(kind)}"
        )
    return {c: _read(option, text, kind) for c, text in zip(CORNERS, four, strict=True)}


def _example(kind: str) -> str:
    pair = ("655 mm", "640 mm") if kind == "height" else ("310 kg", "295 kg")
    return f'"{pair[0]}, {pair[1]}"'


def _read(option: str, text: str, kind: str) -> float:
    try:
        return _kind(kind).read(text)
    except ValueError as error:
        raise RidelogError(f"{option}: {error}") from None


def _kind(kind: str) -> QuantityText:
    from ridelog.car.fields import QuantityText

    if kind == "height":
        return QuantityText(kind="length", low=-0.5, high=2, example="655 mm")
    return QuantityText(kind="mass", low=5, high=1e4, example="310 kg")


def _share(text: str | None) -> float:
    """Wanted cross weight; half where nothing is said."""
    if text is None:
        return 0.5
    from ridelog.units import QuantityError, parse_quantity

    try:
        share = parse_quantity(text, "ratio", example="50 %")
    except QuantityError as error:
        raise RidelogError(f"--cross-weight: {error}") from None
    if not 0.3 <= share <= 0.7:
        raise RidelogError(f'--cross-weight: "{text}" is impossible here: expected 30 % to 70 %')
    return share
