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
    "--same-motion",
    nargs=2,
    metavar="COLUMN COLUMN",
    help="Two loggers instead of two parts: columns on the same part of the car, one of each.",
)
@click.option(
    "--same-bump",
    nargs=2,
    metavar="COLUMN COLUMN",
    help="Two loggers on different parts of the car: columns that felt the same knocks or kerbs.",
)
@click.option(
    "--car", "car_file", type=ANY_PATH, metavar="FILE", help="Car file, if it names the clock."
)
def command(
    parts: tuple[Path, ...],
    out_file: Path,
    same_motion: tuple[str, str] | None,
    same_bump: tuple[str, str] | None,
    car_file: Path | None,
) -> None:
    """Join the files of one drive that a logger split, or the logs of two loggers on one ride.

    Parts are put in the order of their clocks. Two loggers are laid over each other by a motion
    that both felt, or by a few knocks on the standing car; the first gives the rows, and the offset
    is told with its interval.
    """
    for part in parts:
        find_log(part)
    felt_by = same_motion or same_bump
    if same_motion is not None and same_bump is not None:
        message = "--same-motion and --same-bump exclude each other."
        raise click.UsageError(message, click.get_current_context())
    if felt_by is not None and len(parts) != 2:
        option = "--same-motion" if same_motion is not None else "--same-bump"
        raise click.UsageError(f"{option} takes two logs.", click.get_current_context())
    with progress(f"joining {len(parts)} files"):
        from ridelog.car.description import Logger
        from ridelog.car.load import load_car
        from ridelog.ingest.join_loggers import join_loggers
        from ridelog.ingest.join_parts import join_parts
        from ridelog.report.joined import match_remarks
        from ridelog.runs.write_table import write_table

        logger = Logger() if car_file is None else load_car(find_car(parts[0], car_file)).logger
        if felt_by is None:
            joined = join_parts(parts, logger.time_column, logger.time_unit)
            remarks = joined.remarks
        else:
            joined, match = join_loggers(parts[0], parts[1], felt_by, logger, same_bump is not None)
            remarks = match_remarks(match)
        above = [row for row in (joined.header, joined.units) if row]
        write_table(out_file, [*above, *joined.rows], joined.delimiter)
    click.echo(f"{len(joined.rows)} rows of {len(parts)} files written to {out_file}")
    for remark in remarks:
        click.echo(f"- {remark}")
