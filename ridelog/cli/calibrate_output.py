"""Options of the calibrations, and how their results get into a car file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ridelog.cli.options import ANY_PATH, find_car

if TYPE_CHECKING:
    from ridelog.car.channel_values import Values

into_option = click.option(
    "--car",
    "car_file",
    type=ANY_PATH,
    metavar="FILE",
    help="Write the result into this car file; the file as it was is kept beside it.",
)
dry_run_option = click.option(
    "--dry-run", is_flag=True, help="Show what would change in the car file; write nothing."
)
column_option = click.option(
    "--column", required=True, metavar="NAME", help="The sensor's column in the log."
)
bump_option = click.option(
    "--bump",
    required=True,
    type=click.Choice(["shorter", "longer"]),
    help="Does the measured length get shorter or longer in bump?",
)


def change_car(car_file: Path | None, dry_run: bool, edit: Callable[[Path, str], str]) -> None:
    """Write a calibration into the car file, or show what would change; nothing without a file.

    Parameters
    ----------
    car_file : Path or None
        The car file.
    dry_run : bool
        Whether to show only.
    edit : callable
        Makes the new text of the path and the old text.

    Raises
    ------
    UsageError
        When nothing is named that could be shown.
    """
    if car_file is None:
        if dry_run:
            raise click.UsageError("--dry-run needs --car FILE.", click.get_current_context())
        return
    from ridelog.runs.save_car import plan_change, save_change

    change = plan_change(find_car(car_file, car_file), edit)
    if not change.difference:
        click.echo(f"\n{car_file} says so already; nothing to write.")
        return
    click.echo(f"\n{change.difference}")
    if dry_run:
        click.echo(f"\nNothing was written to {car_file} (--dry-run).")
        return
    backup = save_change(change)
    click.echo(f"\nWritten to {car_file}; the file as it was: {backup.name}")


def change_channel(car_file: Path | None, dry_run: bool, channel: str, values: Values) -> None:
    """Show a channel's keys, and write them into the car file where one is named.

    Parameters
    ----------
    car_file : Path or None
        The car file.
    dry_run : bool
        Whether to show only.
    channel : str
        The channel.
    values : mapping
        Its keys.
    """
    from ridelog.car.edit import with_channel
    from ridelog.report.calibration import channel_block

    click.echo(f"\n{channel_block(channel, values)}")
    change_car(car_file, dry_run, lambda path, text: with_channel(path, text, channel, values))
