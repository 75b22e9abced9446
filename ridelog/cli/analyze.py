"""ridelog analyze: one log."""

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
    setup_option,
)
from ridelog.cli.output import as_percent, check_outputs, progress, show, write_json, write_page


@click.command(
    "analyze",
    short_help="What one log tells of the car.",
    epilog="\b\nExample:  ridelog analyze sample_logs/simulated_estate/estate_drive_sim.csv.gz",
)
@log_argument
@car_option
@setup_option
@json_option
@report_option
def command(
    log: Path,
    car_file: Path | None,
    setup_file: Path | None,
    json_file: Path | None,
    report_file: Path | None,
) -> None:
    """Tell what one log says of the car: frequency, damping, travel, stops, comfort."""
    car_path = find_car(find_log(log), car_file)
    check_outputs(json_file, report_file)
    words = f"reading and measuring {log.name}"
    with progress(words) as tell:
        from ridelog.car.load import load_car
        from ridelog.runs.analyze import analyze_log
        from ridelog.runs.load_setup import find_setup, load_setup

        car = load_car(car_path)
        setup_path = setup_file or find_setup(log)
        setup = None if setup_path is None else load_setup(setup_path, car)
        result = analyze_log(log, car, setup, as_percent(tell, words))
    if report_file is not None:
        from ridelog.report.page import analysis_page

        write_page(report_file, analysis_page(result, car))
    if json_file is not None:
        from ridelog.report.as_json import analysis_json

        write_json(json_file, analysis_json(result))
    if json_file != STANDARD_OUTPUT:
        from ridelog.report.text import analysis_text

        show(analysis_text(result, car))
