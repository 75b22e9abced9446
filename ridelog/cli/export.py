"""ridelog export: a recording as CSV or Parquet."""

from __future__ import annotations

from pathlib import Path

import click

from ridelog.cli.options import ANY_PATH, find_log
from ridelog.cli.output import progress


@click.command(
    "export",
    short_help="Turn a recording into CSV or Parquet.",
    epilog="\b\nExample:  ridelog export sample_logs/simulated_recording/estate_bounce_sim.rec.gz "
    "--out bounce.csv",
)
@click.argument("recording", type=ANY_PATH)
@click.option(
    "--out",
    "out_file",
    required=True,
    type=ANY_PATH,
    metavar="FILE",
    help="The new file; .parquet at its end makes Parquet, everything else CSV.",
)
def command(recording: Path, out_file: Path) -> None:
    """Turn a recording of a serial logger into a table for other programs.

    ridelog itself reads the recording as it is. In the table each channel is brought to its row's
    time; samples that are not there have no row.
    """
    find_log(recording)
    with progress(f"exporting {recording.name}"):
        from ridelog.runs.export import export_recording

        exported = export_recording(recording, out_file)
    click.echo(f"{exported.row_count} rows written to {out_file}: {', '.join(exported.names)}")
    for remark in exported.remarks:
        click.echo(f"- {remark}")
