"""ridelog calibrate: sensors and motion ratios, from short recordings and measured points."""

from __future__ import annotations

from pathlib import Path

import click

from ridelog.cli.calibrate_output import (
    change_car,
    change_channel,
    column_option,
    dry_run_option,
    into_option,
)
from ridelog.cli.calibrate_travel import arm, string, travel, zero
from ridelog.cli.options import ANY_PATH
from ridelog.cli.output import show

_PLACES = ("+x", "-x", "+y", "-y", "+z", "-z")

channel_option = click.option(
    "--channel", required=True, metavar="NAME", help="What it measures, such as body_fl."
)
upside_down_option = click.option(
    "--upside-down", is_flag=True, help="That axis points down where it sits in the car."
)


@click.group(
    "calibrate",
    invoke_without_command=True,
    short_help="Sensors and motion ratio, for the car file.",
    epilog="\b\nExample:  ridelog calibrate travel --column A0 --channel travel_fl --bump shorter"
    ' --ride-height "312 mm" --point "0.52 V" "360 mm" --point "4.41 V" "251 mm"',
)
@click.pass_context
def command(context: click.Context) -> None:
    """Calibrate sensors and measure the motion ratio; --car FILE writes the result down."""
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


@command.command("two-position", short_help="Accelerometer, one axis, up and down.")
@click.option("--up", required=True, type=ANY_PATH, metavar="LOG", help="At rest, axis up.")
@click.option("--down", required=True, type=ANY_PATH, metavar="LOG", help="At rest, axis down.")
@column_option
@channel_option
@upside_down_option
@into_option
@dry_run_option
def two_position(
    up: Path,
    down: Path,
    column: str,
    channel: str,
    upside_down: bool,
    car_file: Path | None,
    dry_run: bool,
) -> None:
    """One axis of an accelerometer, from a few seconds at rest the right way up and turned over."""
    from ridelog.report.calibration import two_position_text
    from ridelog.runs.calibrate import from_two_positions

    fit, values = from_two_positions(up, down, column, upside_down)
    show(two_position_text(fit))
    change_channel(car_file, dry_run, channel, values)


@command.command("six-position", short_help="Accelerometer, three axes, six positions.")
@click.option(
    "--at",
    "places",
    required=True,
    multiple=True,
    type=(click.Choice(_PLACES), ANY_PATH),
    metavar="AXIS LOG",
    help="Six times: which axis points up (+) or down (-), and the recording at rest.",
)
@click.option(
    "--columns", required=True, nargs=3, metavar="X Y Z", help="The sensor's three columns."
)
@click.option(
    "--axis",
    type=click.Choice(["x", "y", "z"]),
    default="z",
    show_default=True,
    help="Which axis the channel is read from.",
)
@channel_option
@upside_down_option
@into_option
@dry_run_option
def six_position(
    places: tuple[tuple[str, Path], ...],
    columns: tuple[str, str, str],
    axis: str,
    channel: str,
    upside_down: bool,
    car_file: Path | None,
    dry_run: bool,
) -> None:
    """Three axes of an accelerometer and what each feels of the others, from six positions."""
    from ridelog.report.calibration import six_position_text
    from ridelog.runs.calibrate import from_six_positions

    fit, values = from_six_positions(dict(places), columns, axis, upside_down)
    show(six_position_text(fit))
    change_channel(car_file, dry_run, channel, values)


@command.command("motion-ratio", short_help="Damper / wheel travel at jack heights.")
@click.option(
    "--point",
    "points",
    required=True,
    multiple=True,
    nargs=2,
    metavar="WHEEL DAMPER",
    help="Wheel height and damper length at one jack height; four or more heights are best.",
)
@click.option("--ride-height", metavar="LENGTH", help="The wheel's height at ride height.")
@click.option(
    "--reading-error",
    default="0.5 mm",
    show_default=True,
    metavar="LENGTH",
    help="Standard deviation of one reading of your tape or caliper.",
)
@click.option(
    "--lever",
    nargs=3,
    metavar="DAMPER WHEEL ANGLE",
    help="To cross-check: lever arms of damper and wheel, and how far the damper leans.",
)
@click.option("--axle", type=click.Choice(["front", "rear"]), help="For --car: which axle.")
@into_option
@dry_run_option
def motion_ratio(
    points: tuple[tuple[str, str], ...],
    ride_height: str | None,
    reading_error: str,
    lever: tuple[str, str, str] | None,
    axle: str | None,
    car_file: Path | None,
    dry_run: bool,
) -> None:
    """Damper travel / wheel travel, from wheel and damper measured at a few jack heights.

    Measure with the springs out or unloaded, both wheels of the axle moving together. Read the
    cautions first: ridelog calibrate motion-ratio prints them with every result.
    """
    if car_file is not None and axle is None:
        raise click.UsageError("--car needs --axle front or rear.", click.get_current_context())
    from ridelog.car.edit import with_value
    from ridelog.report.calibration import motion_ratio_text
    from ridelog.runs.calibrate import lever_ratio_from, motion_ratio_from

    fit = motion_ratio_from(points, ride_height, reading_error)
    show(motion_ratio_text(fit, None if lever is None else lever_ratio_from(*lever)))
    ratio = float(f"{fit.ratio.value:.4g}")
    change_car(
        car_file,
        dry_run,
        lambda path, text: with_value(path, text, axle or "", "motion_ratio", ratio),
    )


for _each in (travel, zero, string, arm):
    command.add_command(_each)
