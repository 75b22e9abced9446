"""ridelog join: the parts of one drive into one log."""

from __future__ import annotations

from pathlib import Path

import click

from ridelog.cli.options import ANY_PATH, find_car, find_log
from ridelog.cli.output import progress


@click.command(
    "join",
    short_help="Put the parts of one drive into one log.",
    epilog="\b\nExample:  ridelog join sample_logs/simulated_split/part_1.csv.gz "
    "sample_logs/simulated_split/part_2.csv.gz --out joined.csv",
)
@click.argument("parts", nargs=-1, required=True, type=ANY_PATH)
@click.option(
    "--out", "out_file", required=True, type=ANY_PATH, metavar="FILE", help="The new log."
)
@click.option(
    "--car", "car_file", type=ANY_PATH, metavar="FILE", help="Car file, if it names the clock."
)
def command(parts: tuple[Path, ...], out_file: Path, car_file: Path | None) -> None:
    """Join the files of one drive that a logger split, in the order of their clocks."""
    for part in parts:
        find_log(part)
    with progress(f"joining {len(parts)} files"):
        from ridelog.car.description import Logger
        from ridelog.car.load import load_car
        from ridelog.ingest.join_parts import join_parts
        from ridelog.runs.write_table import write_table

        logger = Logger() if car_file is None else load_car(find_car(parts[0], car_file)).logger
        joined = join_parts(parts, logger.time_column, logger.time_unit)
        above = [row for row in (joined.header, joined.units) if row]
        write_table(out_file, [*above, *joined.rows], joined.delimiter)
    click.echo(f"{len(joined.rows)} rows of {len(parts)} files written to {out_file}")
    for remark in joined.remarks:
        click.echo(f"- {remark}")
