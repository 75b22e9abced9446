"""ridelog calibrate travel, zero, string, arm: travel sensors."""

from __future__ import annotations

from pathlib import Path

import click

from ridelog.cli.calibrate_output import (
    bump_option,
    change_car,
    change_channel,
    column_option,
    dry_run_option,
    into_option,
)
from ridelog.cli.options import ANY_PATH, find_car
from ridelog.cli.output import show

channel_option = click.option(
    "--channel", required=True, metavar="NAME", help="Which corner: travel_fl, travel_fr ..."
)
ride_reading_option = click.option(
    "--ride-height", required=True, metavar="READING", help="The reading at ride height."
)


@click.command("travel", short_help="Travel sensor along the damper, by caliper.")
@column_option
@channel_option
@bump_option
@click.option(
    "--point",
    "points",
    required=True,
    multiple=True,
    nargs=2,
    metavar="READING LENGTH",
    help="One reading and the length measured with it; two or more, five are better.",
)
@click.option("--ride-height", metavar="LENGTH", help="The length at ride height.")
@click.option(
    "--standing",
    type=ANY_PATH,
    metavar="LOG",
    help="Instead of --ride-height: a recording of the standing car.",
)
@into_option
@dry_run_option
def travel(
    column: str,
    channel: str,
    bump: str,
    points: tuple[tuple[str, str], ...],
    ride_height: str | None,
    standing: Path | None,
    car_file: Path | None,
    dry_run: bool,
) -> None:
    """A travel sensor along the damper, from points measured with a caliper."""
    if ride_height is not None and standing is not None:
        raise click.UsageError(
            "--ride-height and --standing say the same twice; keep one.",
            click.get_current_context(),
        )
    from ridelog.report.calibration import travel_text
    from ridelog.runs.calibrate_travel import from_points

    found = from_points(points, column, bump, ride_height, standing)
    show(travel_text(found))
    change_channel(car_file, dry_run, channel, found.values)


@click.command("string", short_help="String sensor at an angle, by its geometry.")
@column_option
@channel_option
@bump_option
@click.option(
    "--point",
    "points",
    required=True,
    multiple=True,
    nargs=2,
    metavar="READING LENGTH",
    help="One reading and the string paid out with it, from any datum; two or more.",
)
@click.option(
    "--along",
    required=True,
    metavar="LENGTH",
    help="At ride height: from the drum to the string's end, in the direction of its motion.",
)
@click.option("--across", required=True, metavar="LENGTH", help="And across that direction.")
@ride_reading_option
@into_option
@dry_run_option
def string(
    column: str,
    channel: str,
    bump: str,
    points: tuple[tuple[str, str], ...],
    along: str,
    across: str,
    ride_height: str,
    car_file: Path | None,
    dry_run: bool,
) -> None:
    """A string sensor that does not lie along the damper, through its stated geometry."""
    from ridelog.report.calibration import travel_text
    from ridelog.runs.calibrate_travel import from_string

    found = from_string(points, column, (along, across), bump, ride_height)
    show(travel_text(found))
    change_channel(car_file, dry_run, channel, found.values)


@click.command("arm", short_help="Rotary sensor with arm and rod, by geometry.")
@column_option
@channel_option
@click.option(
    "--bump",
    required=True,
    type=click.Choice(["up", "down"]),
    help="Which way the rod's end goes against the sensor in bump.",
)
@click.option(
    "--point",
    "points",
    required=True,
    multiple=True,
    nargs=2,
    metavar="READING ANGLE",
    help='One reading and the arm\'s angle with it, upwards positive ("12 deg"); two or more.',
)
@click.option("--arm", "arm_length", required=True, metavar="LENGTH", help="Shaft to arm's end.")
@click.option("--rod", "rod_length", required=True, metavar="LENGTH", help="Eye to eye.")
@click.option(
    "--arm-angle",
    default="0 deg",
    show_default=True,
    metavar="ANGLE",
    help="The arm above the level at ride height.",
)
@click.option(
    "--rod-angle",
    default="0 deg",
    show_default=True,
    metavar="ANGLE",
    help="The rod off the vertical at ride height, away from the sensor.",
)
@click.option(
    "--lever-ratio",
    type=click.FloatRange(0.05, 20),
    default=1.0,
    show_default=True,
    help="Damper travel / travel of the rod's end; the motion ratio where it hangs on the wheel.",
)
@ride_reading_option
@into_option
@dry_run_option
def arm(
    column: str,
    channel: str,
    bump: str,
    points: tuple[tuple[str, str], ...],
    arm_length: str,
    rod_length: str,
    arm_angle: str,
    rod_angle: str,
    lever_ratio: float,
    ride_height: str,
    car_file: Path | None,
    dry_run: bool,
) -> None:
    """A rotary sensor with arm and rod, through its stated geometry (the rod hangs down)."""
    from ridelog.report.calibration import travel_text
    from ridelog.runs.calibrate_travel import arm_geometry, from_arm

    geometry = arm_geometry(arm_length, rod_length, arm_angle, rod_angle)
    found = from_arm(points, column, geometry, bump, ride_height, lever_ratio)
    show(travel_text(found))
    change_channel(car_file, dry_run, channel, found.values)


@click.command("zero", short_help="Zero travel at ride height, standing car.")
@click.argument("log", type=ANY_PATH)
@click.option(
    "--car",
    "car_file",
    required=True,
    type=ANY_PATH,
    metavar="FILE",
    help="The car file to read and to write; the file as it was is kept beside it.",
)
@dry_run_option
def zero(log: Path, car_file: Path, dry_run: bool) -> None:
    """Travel zero at ride height, from a recording of the standing car with its usual load."""
    from ridelog.report.calibration import zero_text
    from ridelog.runs.calibrate_travel import from_standing, zeroed_text

    readings = from_standing(log, find_car(log, car_file))
    show(zero_text(readings))
    change_car(car_file, dry_run, lambda path, text: zeroed_text(path, text, readings))
