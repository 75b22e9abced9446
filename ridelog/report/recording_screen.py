"""A recording while it runs: a screen for a terminal, a line for a pipe, words at its end."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ridelog.record.channel_state import ChannelState
from ridelog.record.ports import PortInfo
from ridelog.record.recognise import Speech
from ridelog.record.snapshot import Snapshot

if TYPE_CHECKING:
    from rich.text import Text

EYES_ON_THE_ROAD = (
    "The driver does not look at this screen: let a passenger, or look when you stand."
)
_BAR_CELLS = 20
_NUMBERS_CELLS = 40
_LOW_DISK_BYTES = 200 << 20


def recording_screen(snapshot: Snapshot, file: Path, free_bytes: int, width: int) -> Text:
    """Draw a recording as it stands.

    Parameters
    ----------
    snapshot : Snapshot
        The recording.
    file : Path
        Where it goes.
    free_bytes : int
        Room left on that disk.
    width : int
        Columns of the terminal.
    """
    from rich.text import Text

    # One text, not a table: drawn every second for hours beside a port that must not wait.
    screen = Text(no_wrap=True, overflow="crop", end="")
    screen.append(f"{clock(snapshot.elapsed_s)}  {_state(snapshot)}\n", style="bold")
    screen.append(f"{file.name}: {_size(snapshot.size_bytes)}, {_size(free_bytes)} disk left\n")
    if free_bytes < _LOW_DISK_BYTES:
        screen.append("the disk is nearly full\n", style="bold red")
    screen.append(f"{_losses(snapshot)}\n", style="yellow" if _lost(snapshot) else "")
    if snapshot.channels:
        _add_bars(screen, snapshot.channels, width)
    elif snapshot.last_words:
        screen.append(f"{snapshot.last_words[:width]}\n")
    screen.append(f"m: mark ({snapshot.mark_count} set)   Ctrl-C: end\n", style="dim")
    screen.append("\n".join(textwrap.wrap(EYES_ON_THE_ROAD, width)), style="dim")
    return screen


def recording_line(snapshot: Snapshot) -> str:
    """Say in one line how a recording stands.

    Parameters
    ----------
    snapshot : Snapshot
        The recording.
    """
    warnings = [f"{state.name} {state.warning}" for state in snapshot.channels if state.warning]
    words = [clock(snapshot.elapsed_s), _state(snapshot), _losses(snapshot), *warnings]
    return "; ".join(words)


def recording_summary(snapshot: Snapshot, files: Sequence[Path]) -> list[str]:
    """Say what was recorded, and what to do with it.

    Parameters
    ----------
    snapshot : Snapshot
        The recording at its end.
    files : sequence of Path
        Its files.
    """
    what = f"{snapshot.received} samples"
    if snapshot.speech is Speech.LINES:
        what = f"{snapshot.line_count} lines"
    lines = [f"{what} in {clock(snapshot.elapsed_s)} recorded in {', '.join(map(str, files))}"]
    if snapshot.speech is not Speech.LINES:
        lines.append(_losses(snapshot))
    if len(files) > 1:
        lines.append(f"put them together: ridelog join {' '.join(map(str, files))} --out FILE")
    lines.append(f"next: ridelog check {files[0]}")
    return lines


def port_lines(ports: Sequence[PortInfo]) -> list[str]:
    """List serial ports.

    Parameters
    ----------
    ports : sequence of PortInfo
        The ports.
    """
    if not ports:
        return ["no serial port found; plug the logger in, or look at its cable and driver"]
    width = max(len(port.device) for port in ports)
    listed = [f"{port.device:{width}}  {port.words}" for port in ports]
    return [*listed, f"record from one:  ridelog record {ports[0].device} --out FILE"]


def clock(seconds: float) -> str:
    """Write a time as minutes and seconds, with hours where there are any.

    Parameters
    ----------
    seconds : float
        The time [s].
    """
    minutes, rest = divmod(int(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def _state(snapshot: Snapshot) -> str:
    """Say who sends, and how fast."""
    if snapshot.waiting_for:
        return snapshot.waiting_for
    if snapshot.speech is Speech.LINES:
        return f"a logger that prints lines, {snapshot.line_count} so far"
    stated = snapshot.stated_rate_hz
    rate = f"{snapshot.rate_hz:.0f} samples/s"
    if stated and abs(snapshot.rate_hz - stated) > 0.05 * stated:
        rate += f" of {stated:.0f}"
    supply = f", supply {snapshot.supply_v:.2f} V" if snapshot.supply_v else ""
    return f"{snapshot.logger or 'logger'}: {rate}{supply}"


def _lost(snapshot: Snapshot) -> bool:
    return snapshot.missing > 0 or snapshot.bad_frames > 0


def _losses(snapshot: Snapshot) -> str:
    """Say what is missing, and whose fault it is as far as is known."""
    if snapshot.speech is Speech.LINES:
        return "lines are kept as they come; this kind of logger does not say what it misses"
    if not _lost(snapshot):
        words = f"{snapshot.received} samples, none missing"
    else:
        own = snapshot.missed + snapshot.dropped
        whose = f", {own} of them by the logger" if own else ""
        gaps = "gap" if snapshot.gap_count == 1 else "gaps"
        words = (
            f"{snapshot.received} samples, {snapshot.missing} missing in {snapshot.gap_count}"
            f" {gaps}{whose}"
        )
        if snapshot.bad_frames:
            words += f"; {snapshot.bad_frames} damaged frames"
    return words if snapshot.run_count < 2 else f"{words}; started {snapshot.run_count} times"


def _add_bars(screen: Text, states: Sequence[ChannelState], width: int) -> None:
    """Draw each channel's last seconds in its range."""
    names = max(len("channel"), *(len(state.name) for state in states))
    wide = width >= names + _BAR_CELLS + _NUMBERS_CELLS
    bar_title = f"{'limit to limit':{_BAR_CELLS}} " if wide else ""
    screen.append(f"{'channel':{names}} {bar_title}{'now':>8} {'min':>8} {'max':>8}\n", style="dim")
    for state in states:
        bar = f"{_bar(state)} " if wide else ""
        numbers = f"{state.now:8.4g} {state.lowest:8.4g} {state.highest:8.4g}"
        screen.append(f"{state.name:{names}} {bar}{numbers} {state.unit} ")
        screen.append(f"{state.warning}\n", style="bold red")


def _bar(state: ChannelState) -> str:
    """Draw min to max as a bar between the sensor's limits, with the present reading in it."""
    reach = state.top - state.bottom
    if reach <= 0:
        return " " * _BAR_CELLS

    def cell(value: float) -> int:
        share = (value - state.bottom) / reach
        return min(max(int(share * _BAR_CELLS), 0), _BAR_CELLS - 1)

    cells = ["·"] * _BAR_CELLS
    low, high = cell(state.lowest), cell(state.highest)
    cells[low : high + 1] = ["━"] * (high + 1 - low)
    cells[cell(state.now)] = "●"
    return "".join(cells)


def _size(count: int) -> str:
    """Write a number of bytes."""
    for unit, size in (("GB", 1e9), ("MB", 1e6)):
        if count >= size:
            return f"{count / size:.1f} {unit}"
    return f"{count / 1e3:.0f} kB"
