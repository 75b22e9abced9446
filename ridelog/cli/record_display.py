"""Show a running recording: a screen with keys on a terminal, a line now and then elsewhere."""

from __future__ import annotations

import os
import shutil
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from ridelog.record.recorder import Recorder
from ridelog.report.recording_screen import EYES_ON_THE_ROAD, recording_line, recording_screen

_SCREEN_EVERY_S = 1.0
_LINE_EVERY_S = 10.0
_KEY_EVERY_S = 0.1
_MARK_KEYS = "mM "


def display(recorder: Recorder, ended: threading.Event, file: Path, seconds: float | None) -> None:
    """Show a recording until it ends by itself, or for so long.

    Parameters
    ----------
    recorder : Recorder
        The recording.
    ended : Event
        Set when the recording has ended by itself.
    file : Path
        Where it goes.
    seconds : float or None
        How long to show it [s]; None: until it ends.
    """
    end_s = None if seconds is None else time.monotonic() + seconds
    going = _Going(ended, end_s)
    if sys.stderr.isatty():
        _show_screen(recorder, going, file)
    else:
        _print_lines(recorder, going)


class _Going:
    """Tells whether to go on."""

    def __init__(self, ended: threading.Event, end_s: float | None) -> None:
        self._ended = ended
        self._end_s = end_s

    def on(self) -> bool:
        in_time = self._end_s is None or time.monotonic() < self._end_s
        return in_time and not self._ended.is_set()

    def rest(self, seconds: float) -> None:
        """Wait, but not longer than the recording lasts."""
        if self._end_s is not None:
            seconds = min(seconds, max(self._end_s - time.monotonic(), 0.0))
        self._ended.wait(seconds)


def _print_lines(recorder: Recorder, going: _Going) -> None:
    """Print a line soon, and then now and then."""
    click.echo(EYES_ON_THE_ROAD, err=True)
    going.rest(2.0)
    while going.on():
        click.echo(recording_line(recorder.snapshot), err=True)
        going.rest(_LINE_EVERY_S)


def _show_screen(recorder: Recorder, going: _Going, file: Path) -> None:
    """Draw the screen every second and listen to keys."""
    from rich.console import Console
    from rich.live import Live

    console = Console(stderr=True, highlight=False, emoji=False, markup=False)

    def draw(live: Live) -> None:
        free_bytes = shutil.disk_usage(file.parent).free
        screen = recording_screen(recorder.snapshot, file, free_bytes, console.width)
        live.update(screen, refresh=True)

    with _pressed_keys() as keys, Live(console=console, auto_refresh=False) as live:
        next_draw_s = 0.0
        while going.on():
            for _ in filter(_MARK_KEYS.__contains__, keys()):
                recorder.mark()
                next_draw_s = 0.0
            if time.monotonic() >= next_draw_s:
                draw(live)
                next_draw_s = time.monotonic() + _SCREEN_EVERY_S
            going.rest(_KEY_EVERY_S)
        draw(live)


@contextmanager
def _pressed_keys() -> Iterator[Callable[[], str]]:
    """Give a function that returns the keys pressed since it was last called."""
    if not sys.stdin.isatty():
        yield lambda: ""
        return
    try:
        import termios
        import tty
    except ImportError:
        yield _key_without_termios
        return
    import select

    handle = sys.stdin.fileno()
    before = termios.tcgetattr(handle)

    def keys() -> str:
        ready, _, _ = select.select([handle], [], [], 0)
        return os.read(handle, 64).decode(errors="replace") if ready else ""

    try:
        tty.setcbreak(handle)
        yield keys
    finally:
        termios.tcsetattr(handle, termios.TCSADRAIN, before)


def _key_without_termios() -> str:
    """Read a key where the system has its own way for that."""
    import importlib

    keyboard = importlib.import_module("msvcrt")
    return str(keyboard.getwch()) if keyboard.kbhit() else ""
