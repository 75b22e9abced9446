"""ridelog car-schema: the car file's JSON Schema."""

from __future__ import annotations

from pathlib import Path

import click

from ridelog.cli.options import ANY_PATH, STANDARD_OUTPUT
from ridelog.cli.output import check_outputs, write_json


@click.command(
    "car-schema",
    short_help="The car file's JSON Schema, for editors.",
    epilog="\b\nExample:  ridelog car-schema --out car.schema.json",
)
@click.option(
    "--out",
    "out_file",
    type=ANY_PATH,
    metavar="FILE",
    default=STANDARD_OUTPUT,
    help="Write it there instead of standard output.",
)
def command(out_file: Path) -> None:
    """Write the car file's JSON Schema, by which an editor completes keys and marks mistakes."""
    check_outputs(out_file)
    from ridelog.car.schema import car_json_schema

    write_json(out_file, car_json_schema())
