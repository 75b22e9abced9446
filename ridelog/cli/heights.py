"""ridelog heights: the sheet to take under the car."""

from __future__ import annotations

from pathlib import Path

import click

from ridelog.cli.options import (
    ANY_PATH,
    STANDARD_OUTPUT,
    car_option,
    find_car_in,
    json_option,
    report_option,
)
from ridelog.cli.output import check_outputs, show, write_json, write_page

CORNERS_HELP = "four figures (fl, fr, rl, rr) or two (front, rear) with commas"


def split(text: str | None) -> tuple[str, ...]:
    """Part figures at their commas."""
    return tuple(part.strip() for part in text.split(",")) if text else ()


@click.command(
    "heights",
    short_help="Perch turns for ride heights and corner weights.",
    epilog="\b\nExample:  ridelog heights sample_logs/simulated_estate "
    '--now "655 mm, 651 mm, 640 mm, 646 mm"',
)
@click.argument("place", metavar="[FOLDER]", type=ANY_PATH, default=Path())
@car_option
@click.option("--before", metavar="HEIGHTS", help=f"Before the work: {CORNERS_HELP}.")
@click.option("--now", metavar="HEIGHTS", help="As the car stands now; the same way.")
@click.option("--want", metavar="HEIGHTS", help="Wanted; each axle even where left out.")
@click.option("--weights", metavar="WEIGHTS", help="What four corner scales show now.")
@click.option("--cross-weight", metavar="SHARE", help="Wanted with scales; 50 % where left out.")
@click.option(
    "--setup", "setup_file", type=ANY_PATH, metavar="FILE", help="Setup file with the heights now."
)
@click.option("--bars-unhooked", is_flag=True, help="Reckon without the anti-roll bars.")
@json_option
@report_option
def command(
    place: Path,
    car_file: Path | None,
    before: str | None,
    now: str | None,
    want: str | None,
    weights: str | None,
    cross_weight: str | None,
    setup_file: Path | None,
    bars_unhooked: bool,
    json_file: Path | None,
    report_file: Path | None,
) -> None:
    """Say how far to turn which spring perch for ride heights and corner weights.

    FOLDER holds the car file and perhaps setup files with heights; this folder where left out.
    Without any heights the sheet has blanks to fill in under the car.
    """
    car_path = find_car_in(place, car_file)
    check_outputs(json_file, report_file)
    from ridelog.advise.heights import advise_heights, without_bars
    from ridelog.car.load import load_car
    from ridelog.runs.height_figures import StatedHeights, height_figures

    car = load_car(car_path)
    stated = StatedHeights(
        before=split(before),
        now=split(now),
        wanted=split(want),
        weight=split(weights),
        cross_weight=cross_weight,
    )
    folder = place if place.is_dir() else place.parent
    figures = height_figures(car, stated, setup_file, folder)
    advice = advise_heights(without_bars(car) if bars_unhooked else car, figures)
    if report_file is not None:
        from ridelog.report.heights_page import heights_page

        write_page(report_file, heights_page(advice, car))
    if json_file is not None:
        from ridelog.report.heights_json import heights_json

        write_json(json_file, heights_json(advice, car))
    if json_file != STANDARD_OUTPUT:
        from ridelog.report.heights_text import heights_text

        show(heights_text(advice, car))
