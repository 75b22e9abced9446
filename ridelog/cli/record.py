"""ridelog record: from a serial logger into a file."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ridelog.cli.options import ANY_PATH

if TYPE_CHECKING:
    from ridelog.record.recorder import Recorder, RecordSettings

_DEFAULT_BAUD = 500_000


@click.command(
    "record",
    short_help="Record from a serial logger.",
    epilog="\b\nExample:  ridelog record",
)
@click.argument("port", required=False)
@click.option(
    "--out", "out_file", type=ANY_PATH, metavar="FILE", help="The recording; must not exist yet."
)
@click.option(
    "--baud",
    type=click.IntRange(min=300),
    default=_DEFAULT_BAUD,
    show_default=True,
    help="Speed of the line, as the logger has it.",
)
@click.option(
    "--rate",
    "rate_hz",
    type=click.FloatRange(min=0.001, max=4_000_000, min_open=False),
    metavar="HZ",
    help="Have the logger sample so often; else as it likes.",
)
@click.option(
    "--seconds",
    type=click.FloatRange(min=0, min_open=True),
    help="Stop after so long; else with Ctrl-C.",
)
def command(
    port: str | None,
    out_file: Path | None,
    baud: int,
    rate_hz: float | None,
    seconds: float | None,
) -> None:
    """Record what a logger sends over a serial port, and lose none of it.

    PORT is such as /dev/ttyUSB0 or COM3; without it the ports are listed. What comes is written at
    once, so that neither a full disk, a pulled plug nor a crash takes what was there before.
    Unplugged, it goes on when the same device comes back. analyze, check and the rest read the
    file as it is.

    The driver does not look at the screen.
    """
    if port is None:
        from ridelog.record.ports import known_ports
        from ridelog.report.recording_screen import port_lines

        click.echo("\n".join(port_lines(known_ports())))
        return
    if out_file is None:
        message = f"--out FILE is needed: where shall {port} be recorded?"
        raise click.UsageError(message, click.get_current_context())
    from ridelog.record.recorder import RecordSettings

    _record(RecordSettings(port=port, baud=baud, file=out_file, rate_hz=rate_hz), seconds)


def _record(settings: RecordSettings, seconds: float | None) -> None:
    """Record in a thread of its own; this one shows how it goes."""
    from ridelog.cli.record_display import display
    from ridelog.errors import RecorderError
    from ridelog.record.recognise import Speech
    from ridelog.record.recorder import Recorder
    from ridelog.report.recording_screen import recording_summary

    recorder = Recorder(settings)
    stop = threading.Event()
    failures: list[BaseException] = []
    ended = threading.Event()
    threading.Thread(target=_run, args=(recorder, stop, ended, failures)).start()
    try:
        display(recorder, ended, settings.file, seconds)
    except KeyboardInterrupt:
        pass  # the usual end
    finally:
        stop.set()
        ended.wait()  # not join: after a Ctrl-C during join Python takes the thread for ended
    if failures:
        raise failures[0]
    if recorder.snapshot.speech is Speech.UNKNOWN:
        raise RecorderError(settings.port, _nothing_words(recorder.snapshot.size_bytes, settings))
    click.echo("\n".join(recording_summary(recorder.snapshot, recorder.parts)))


def _nothing_words(size_bytes: int, settings: RecordSettings) -> str:
    """Say that no logger was heard."""
    if size_bytes:
        return (
            f"{size_bytes} bytes came at {settings.baud} baud, too few to tell what they are; is"
            f" --baud right? They are kept in {settings.file}"
        )
    return (
        f"nothing came at {settings.baud} baud; is it the right port, is --baud right, is the"
        " logger on?"
    )


def _run(
    recorder: Recorder,
    stop: threading.Event,
    ended: threading.Event,
    failures: list[BaseException],
) -> None:
    """Record, and hand over what went wrong: a thread's own errors go nowhere."""
    try:
        recorder.run(stop)
    except BaseException as error:  # noqa: BLE001  (raised again by the thread that waits)
        failures.append(error)
    finally:
        ended.set()
