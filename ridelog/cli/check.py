"""ridelog check: is a log fit to be analyzed."""

from __future__ import annotations

from pathlib import Path

import click

from ridelog.cli.options import (
    STANDARD_OUTPUT,
    car_option,
    find_car,
    find_log,
    json_option,
    log_argument,
    report_option,
)
from ridelog.cli.output import as_percent, check_outputs, progress, show, write_json, write_page


@click.command(
    "check",
    short_help="Is a log fit to be analyzed?",
    epilog="\b\nExample:  ridelog check sample_logs/simulated_estate/estate_upside_down_sim.csv.gz",
)
@log_argument
@car_option
@json_option
@report_option
@click.option(
    "--propose",
    is_flag=True,
    help="Only guess what the columns of an unknown log are; needs no car file.",
)
def command(
    log: Path,
    car_file: Path | None,
    json_file: Path | None,
    report_file: Path | None,
    propose: bool,
) -> None:
    """Check whether a log is fit to be analyzed: sensors, clock, orientation."""
    if propose:
        if json_file is not None or report_file is not None:
            message = "--propose goes with neither --json nor --report."
            raise click.UsageError(message, click.get_current_context())
        _propose(find_log(log))
        return
    car_path = find_car(find_log(log), car_file)
    check_outputs(json_file, report_file)
    words = f"checking {log.name}"
    with progress(words) as tell:
        from ridelog.car.load import load_car
        from ridelog.runs.check import check_log

        car = load_car(car_path)
        result = check_log(log, car, as_percent(tell, words))
    if report_file is not None:
        from ridelog.report.page import check_page

        write_page(report_file, check_page(result, car))
    if json_file is not None:
        from ridelog.report.as_json import check_json

        write_json(json_file, check_json(result))
    if json_file != STANDARD_OUTPUT:
        from ridelog.report.text import check_text

        show(check_text(result))


def _propose(log: Path) -> None:
    """Show what the columns of a log may be."""
    with progress(f"looking at {log.name}"):
        from ridelog.ingest.propose import propose
        from ridelog.report.proposal import mapping_block, proposal_text

        guesses = propose(log)
    show(proposal_text(guesses))
    if block := mapping_block(guesses):
        click.echo(f"\n{block}")
