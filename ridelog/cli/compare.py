"""ridelog compare: two runs of a car."""

from __future__ import annotations

from pathlib import Path

import click

from ridelog.cli.options import ANY_PATH, STANDARD_OUTPUT, car_option, find_log, json_option
from ridelog.cli.output import check_outputs, progress, show, write_json


@click.command(
    "compare",
    short_help="What changed between two runs?",
    epilog="\b\nExample:  "
    "ridelog compare ridelog-demo/1-baseline.csv ridelog-demo/3-second-drive.csv",
)
@click.argument("first", metavar="LOG", type=ANY_PATH)
@click.argument("second", metavar="LOG", type=ANY_PATH)
@car_option
@json_option
def command(first: Path, second: Path, car_file: Path | None, json_file: Path | None) -> None:
    """Say what changed between two runs, and whether it is more than chance."""
    find_log(first)
    find_log(second)
    check_outputs(json_file)
    with progress("reading the two runs") as tell:
        from ridelog.runs.compare import compare_logs

        comparison = compare_logs(first, second, car_file, tell)
    if json_file is not None:
        from ridelog.report.comparison import comparison_json

        write_json(json_file, comparison_json(comparison))
    if json_file != STANDARD_OUTPUT:
        from ridelog.report.comparison import comparison_text

        show(comparison_text(comparison))
