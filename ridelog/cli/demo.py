"""ridelog demo: a made-up car, from its logs to the advice."""

from __future__ import annotations

from pathlib import Path

import click

from ridelog.cli.options import ANY_PATH
from ridelog.cli.output import progress, show, write_page


@click.command(
    "demo",
    short_help="Try it out on a made-up car.",
    epilog="\b\nExample:  ridelog demo my-demo",
)
@click.argument("folder", metavar="[FOLDER]", type=ANY_PATH, default=Path("ridelog-demo"))
def command(folder: Path) -> None:
    """Write a made-up car with its logs into FOLDER, analyze them and say what to turn next.

    FOLDER is ridelog-demo where left out; it must be new or empty.
    """
    with progress("driving a made-up car") as tell:
        from ridelog.advise.next_step import advise
        from ridelog.report.page import advice_page, analysis_page
        from ridelog.report.text import advice_text
        from ridelog.runs.collect import collect_runs
        from ridelog.simulate.demo import write_demo

        files = write_demo(folder)
        car, runs = collect_runs(files.log_paths, files.car_path, tell)
        advice = advise(car, runs)
        tell("writing the pages")
        for run in runs:
            write_page(
                (folder / run.path.name).with_suffix(".html"), analysis_page(run.analysis, car)
            )
        write_page(folder / "advice.html", advice_page(advice, car))
    show(advice_text(advice, car))
    click.echo(
        f"All of this is made up. The car file, logs, setups and pages are in {folder}; what is "
        f"really true of the car is in {folder / 'truth'}, to hold against what was measured."
    )
