"""ridelog plan: the drive that will tell most."""

from __future__ import annotations

from pathlib import Path

import click

from ridelog.cli.options import (
    ANY_PATH,
    CAR_FILE_NAME,
    STANDARD_OUTPUT,
    car_option,
    find_car,
    json_option,
    report_option,
)
from ridelog.cli.output import check_outputs, progress, show, write_json, write_page


@click.command(
    "plan",
    short_help="The drive that will tell most, before you set off.",
    epilog="\b\nExample:  ridelog plan --car sample_logs/simulated_estate/car.toml "
    '--sensors "travel, body, hub"',
)
@click.argument("paths", metavar="[FOLDER_OR_LOG]...", type=ANY_PATH, nargs=-1)
@car_option
@click.option(
    "--sensors",
    metavar="NAMES",
    help="What will be logged: travel, body, hub (each at all corners), cabin, or channel names; "
    "those of the earlier runs or of the car file's logger where left out.",
)
@click.option("--damping", metavar="SHARE", help="Interval wanted: +- 5 % where left out.")
@click.option("--frequency", metavar="SHARE", help="Interval wanted for the body frequency.")
@json_option
@report_option
def command(
    paths: tuple[Path, ...],
    car_file: Path | None,
    sensors: str | None,
    damping: str | None,
    frequency: str | None,
    json_file: Path | None,
    report_file: Path | None,
) -> None:
    """Plan bounce test and drive: which road, how fast, how long, how often.

    With earlier runs their own intervals say how much more driving it takes; without any, what
    such sensors usually reach.
    """
    check_outputs(json_file, report_file)
    if not paths:
        find_car(Path(CAR_FILE_NAME), car_file)
    with progress("planning") as tell:
        from ridelog.advise.plan import plan_drive
        from ridelog.runs.plan_inputs import plan_inputs

        car, runs, channels, wish = plan_inputs(paths, car_file, sensors, damping, frequency, tell)
        plan = plan_drive(car, channels, runs, wish)
    if report_file is not None:
        from ridelog.report.plan_page import plan_page

        write_page(report_file, plan_page(plan, car))
    if json_file is not None:
        from ridelog.report.plan_json import plan_json

        write_json(json_file, plan_json(plan, car))
    if json_file != STANDARD_OUTPUT:
        from ridelog.report.plan_text import plan_text

        show(plan_text(plan, car))
