"""ridelog advise: all runs of a car."""

from __future__ import annotations

from pathlib import Path

import click

from ridelog.cli.options import (
    ANY_PATH,
    STANDARD_OUTPUT,
    car_option,
    json_option,
    report_option,
)
from ridelog.cli.output import check_outputs, progress, show, write_json, write_page


@click.command(
    "advise",
    short_help="What to turn or fit next, from all runs of a car.",
    epilog="\b\nExample:  ridelog advise ridelog-demo --report next.html",
)
@click.argument("paths", metavar="FOLDER_OR_LOG...", type=ANY_PATH, nargs=-1, required=True)
@car_option
@json_option
@report_option
def command(
    paths: tuple[Path, ...],
    car_file: Path | None,
    json_file: Path | None,
    report_file: Path | None,
) -> None:
    """Say what to turn or fit next, from all runs of a car."""
    check_outputs(json_file, report_file)
    with progress("reading the runs") as tell:
        from ridelog.advise.next_step import advise
        from ridelog.runs.collect import collect_runs

        car, runs = collect_runs(paths, car_file, tell)
        advice = advise(car, runs)
    if report_file is not None:
        from ridelog.report.page import advice_page

        write_page(report_file, advice_page(advice, car))
    if json_file is not None:
        from ridelog.report.as_json import advice_json

        write_json(json_file, advice_json(advice, car))
    if json_file != STANDARD_OUTPUT:
        from ridelog.report.text import advice_text

        show(advice_text(advice, car))
