"""What a plan starts from: the car, its earlier runs, the sensors and what is wanted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ridelog.car.description import Car
from ridelog.errors import RidelogError
from ridelog.recording import ALL_CHANNELS, BODY_CHANNELS, HUB_CHANNELS, TRAVEL_CHANNELS
from ridelog.runs.collect import CAR_FILE_NAME, Run, collect_runs

GROUPS = {"travel": TRAVEL_CHANNELS, "body": BODY_CHANNELS, "hub": HUB_CHANNELS}
USUAL_DAMPING_WIDTH = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedWidths:
    """Relative 95 % half-widths wanted [-]; None where nothing is wanted of a quantity."""

    damping_ratio: float | None = USUAL_DAMPING_WIDTH
    body_frequency_hz: float | None = None


def plan_inputs(
    paths: Sequence[Path],
    car_file: Path | None,
    sensors: str | None,
    damping: str | None,
    frequency: str | None,
    progress: Callable[[str], None],
) -> tuple[Car, tuple[Run, ...], tuple[str, ...], WantedWidths]:
    """Read the car and its earlier runs, and what the call says of sensors and intervals.

    Parameters
    ----------
    paths : sequence of Path
        Earlier logs and folders; empty for none.
    car_file : Path or None
        The car file; ``car.toml`` beside the logs, or here, where None.
    sensors : str or None
        What will be logged, with commas.
    damping, frequency : str or None
        Half-widths wanted, as typed.
    progress : callable
        Told what is being read.

    Raises
    ------
    RidelogError
        A sensor or interval cannot be understood, or no sensors are known.
    FileError, CarFileError
        A file is missing or at fault.
    """
    wish = _wish(damping, frequency)
    named = _channels(sensors) if sensors else ()
    if paths:
        car, runs = collect_runs(paths, car_file, progress)
    else:
        from ridelog.car.load import load_car

        car, runs = load_car(car_file or Path(CAR_FILE_NAME)), ()
    channels = named or _of_runs(runs) or tuple(car.logger.channels)
    if not channels:
        raise RidelogError(
            'no sensors known: name them with --sensors, such as --sensors "travel, body", or '
            "name a folder of earlier runs"
        )
    return car, runs, channels, wish


def _wish(damping: str | None, frequency: str | None) -> WantedWidths:
    """Take the damping ratio for wanted unless only the frequency is named."""
    usual = None if frequency else USUAL_DAMPING_WIDTH
    return WantedWidths(
        damping_ratio=_share("--damping", damping) if damping else usual,
        body_frequency_hz=_share("--frequency", frequency) if frequency else None,
    )


def _share(option: str, text: str) -> float:
    from ridelog.units import QuantityError, parse_quantity

    try:
        share = parse_quantity(text, "ratio", example="5 %")
    except QuantityError as error:
        raise RidelogError(f"{option}: {error}") from None
    if not 0.001 <= share <= 1.0:
        raise RidelogError(f'{option}: "{text}" is impossible here: expected 0.1 % to 100 %')
    return share


def _channels(text: str) -> tuple[str, ...]:
    """Spread group names over their channels."""
    from ridelog.car.faults import nearest

    found: list[str] = []
    for name in (part.strip() for part in text.replace("+", ",").split(",")):
        if name in GROUPS:
            found += GROUPS[name]
        elif name in ALL_CHANNELS:
            found.append(name)
        elif name:
            known = nearest(name, (*GROUPS, *ALL_CHANNELS))
            raise RidelogError(f'--sensors: "{name}" is no sensor; {known}')
    return tuple(dict.fromkeys(found))


def _of_runs(runs: Sequence[Run]) -> tuple[str, ...]:
    """Channels of the latest drive, else of the latest log."""
    drives = [run for run in runs if run.analysis.log.kind == "drive"] or list(runs)
    return drives[-1].analysis.log.channels if drives else ()
