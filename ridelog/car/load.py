"""Read a car file into a `Car`, or name every fault in it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ridelog.car.by_corner import by_corner
from ridelog.car.channels import logger_from
from ridelog.car.description import Axle, Car, DynoPoint, Tolerances
from ridelog.car.dyno_sheet import read_dyno_sheet
from ridelog.car.knob_keys import knob_faults, knobs_of
from ridelog.car.load_springs import springs_from, springs_on_file
from ridelog.car.springs import with_stack
from ridelog.car.toml_file import read_toml
from ridelog.errors import CarFileError
from ridelog.recording import AXLES
from ridelog.units import QuantityError, parse_quantity

if TYPE_CHECKING:
    from ridelog.car.schema import AxleSection, CarFile, LoggerSection, TolerancesSection


def load_car(path: Path) -> Car:
    """Read a car file.

    Parameters
    ----------
    path : Path
        The TOML file.

    Returns
    -------
    Car
        The car in SI, clicks counted from full soft.

    Raises
    ------
    CarFileError
        When the file cannot be read or has faults; one line for each fault.
    """
    from pydantic import ValidationError

    from ridelog.car.faults import fault_lines
    from ridelog.car.schema import CarFile

    content = read_toml(path, CarFileError)
    logger, channel_faults = logger_from(_sound_logger_part(content))
    faults = (*_solid_axle_faults(content), *channel_faults)
    try:
        checked = CarFile.model_validate(content)
    except ValidationError as error:
        raise CarFileError(path, (*fault_lines(error, CarFile), *faults)) from None
    front, front_faults = _axle(checked, "front", path)
    rear, rear_faults = _axle(checked, "rear", path)
    faults = (*faults, *dict.fromkeys((*front_faults, *rear_faults)))
    if faults:
        raise CarFileError(path, faults)
    return Car(
        name=checked.car.name,
        wheelbase_m=checked.car.wheelbase,
        front=front,
        rear=rear,
        logger=logger,
        tolerances=_tolerances(checked.tolerances),
        ride_height_m=by_corner(checked.ride_height),
        target_ride_height_m=by_corner(checked.target_ride_height),
        corner_weight_kg=by_corner(checked.corner_weight),
    )


def _axle(file: CarFile, name: str, path: Path) -> tuple[Axle, tuple[str, ...]]:
    """Build one axle, with faults of its springs; a highest click of 0 means no such knob."""
    section: AxleSection = getattr(file, name)
    stack, listed, faults = springs_from(section, name)
    on_file, file_faults = springs_on_file(section, path)
    counted = section.clicks_from or file.car.clicks_from or file.clicks_from or "soft"
    knobs = knobs_of(section)
    sheet, sheet_faults = _dyno_sheet(section, name, path, counted)
    axle = Axle(
        layout=section.layout,
        track_m=section.track,
        sprung_mass_kg=section.sprung_mass,
        unsprung_mass_kg=section.unsprung_mass,
        spring_rate_n_per_m=section.spring_rate,
        motion_ratio=section.motion_ratio,
        tyre_rate_n_per_m=section.tyre_rate,
        bump_gap_m=section.bump_gap,
        droop_gap_m=section.droop_gap,
        damper_spacing_m=section.damper_spacing,
        clicks=knobs.get("clicks"),
        bump_clicks=knobs.get("bump_clicks"),
        rebound_clicks=knobs.get("rebound_clicks"),
        high_speed_bump_clicks=knobs.get("high_speed_bump_clicks"),
        high_speed_rebound_clicks=knobs.get("high_speed_rebound_clicks"),
        dyno_sheet=sheet,
        clicks_from=counted,
        target_body_frequency_hz=section.target_body_frequency,
        target_damping_ratio=section.target_damping_ratio,
        available_spring_rates_n_per_m=tuple(sorted(section.available_spring_rates or ())),
        perch_thread_pitch_m=section.perch_thread_pitch,
        bar_rate_n_per_m=section.bar_rate,
        springs_on_sale=(*listed, *on_file),
    )
    faults = (*faults, *file_faults, *knob_faults(section, name), *sheet_faults)
    return axle if stack is None else with_stack(axle, stack), faults


def _dyno_sheet(
    section: AxleSection, name: str, path: Path, clicks_from: str
) -> tuple[tuple[DynoPoint, ...], tuple[str, ...]]:
    """Read the dyno sheet of an axle's dampers."""
    if section.dyno_sheet is None:
        return (), ()
    knobs = knobs_of(section)
    if not knobs:
        fault = (
            f"{name}.dyno_sheet: needs clicks = (highest click number), the knob it is about, or "
            "bump_clicks and rebound_clicks"
        )
        return (), (fault,)
    return read_dyno_sheet(path.parent / section.dyno_sheet, knobs, clicks_from)


def _tolerances(section: TolerancesSection) -> Tolerances:
    """Take what the owner states, the defaults for the rest."""
    usual = Tolerances()

    def stated(value: float | None, default: float) -> float:
        return default if value is None else value

    return Tolerances(
        sprung_mass=stated(section.sprung_mass, usual.sprung_mass),
        motion_ratio=stated(section.motion_ratio, usual.motion_ratio),
        tyre_rate=stated(section.tyre_rate, usual.tyre_rate),
        travel_gain=stated(section.travel_gain, usual.travel_gain),
        accelerometer_gain=stated(section.accelerometer_gain, usual.accelerometer_gain),
        channel_delay_s=stated(section.channel_delay, usual.channel_delay_s),
        clock_rate=stated(section.clock_rate, usual.clock_rate),
    )


def _sound_logger_part(content: dict[str, object]) -> LoggerSection:
    """Take what is well-formed of the logger section, so that its faults show beside all others."""
    from pydantic import ValidationError

    from ridelog.car.schema import LoggerSection

    section = content.get("logger")
    sound = dict(section) if isinstance(section, dict) else {}
    while True:
        try:
            return LoggerSection.model_validate(sound)
        except ValidationError as error:
            for place in (detail["loc"] for detail in error.errors()):
                if place[0] == "channels" and len(place) > 1:
                    channels = {k: v for k, v in sound["channels"].items() if k != place[1]}
                    sound["channels"] = channels
                else:
                    sound.pop(str(place[0]), None)


def _solid_axle_faults(content: dict[str, object]) -> tuple[str, ...]:
    """Check what a solid axle needs on the raw file, so that it shows beside all other faults."""
    faults = []
    for name in AXLES:
        section = content.get(name)
        if not isinstance(section, dict) or section.get("layout") != "solid":
            continue
        if "damper_spacing" not in section:
            faults.append(
                f"{name}.damper_spacing: missing; a solid axle needs the distance between its"
                ' dampers, such as damper_spacing = "1.05 m"'
            )
        elif _wider(section["damper_spacing"], section.get("track")):
            faults.append(
                f'{name}.damper_spacing: "{section["damper_spacing"]}" is more than the track'
                f' "{section["track"]}"; the dampers of a solid axle stand between the wheels'
            )
    return tuple(faults)


def _wider(spacing: object, track: object) -> bool:
    """Tell whether a spacing exceeds the track, where both can be read."""
    try:
        return parse_quantity(spacing, "length") > parse_quantity(track, "length")
    except QuantityError:
        return False
