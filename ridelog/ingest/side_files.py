"""Bring in a channel that lives in a file of its own beside the log, with a clock of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ridelog.car.description import ChannelMapping
from ridelog.errors import ClockError, LogError
from ridelog.ingest.at_instants import at_instants
from ridelog.ingest.calibrate import to_si
from ridelog.ingest.clock import ReadClock, find_time, read_clock
from ridelog.ingest.columns import mapped_column
from ridelog.ingest.names import absent, column_index
from ridelog.ingest.open_table import open_table
from ridelog.ingest.wall_clock import DAY_S
from ridelog.recording import FloatArray

_PACKED_SUFFIXES = (".gz", ".zip")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SideChannel:
    """A channel from a file beside the log, on the log's clock."""

    values: FloatArray
    column: str
    unit: str
    remarks: tuple[str, ...]


def read_side_channel(
    log_path: Path, channel: str, mapping: ChannelMapping, clock: ReadClock
) -> SideChannel:
    """Read a channel from its own file and put it on the log's clock.

    Parameters
    ----------
    log_path : Path
        The log beside which the file lies.
    channel : str
        The channel's name.
    mapping : ChannelMapping
        Where it stands; `file` may hold ``{stem}`` for the log's name without suffixes.
    clock : ReadClock
        The log's clock.

    Returns
    -------
    SideChannel
        The values at the log's instants, NaN where the file has none.

    Raises
    ------
    LogError
        When the file, its column or its clock is at fault.

    Notes
    -----
    Both clocks share their zero, or are both dates and times. Values are joined by straight lines
    over the channel's own steps, after its delay is taken off; nothing is carried on past either
    end, nor across holes of more than five usual steps.
    """
    path = side_path(log_path, mapping.file or "")
    if not path.exists():
        key = f"logger.channels.{channel} in the car file"
        raise LogError(path, f"no such file beside {log_path.name} ({key})")
    with open_table(path) as opened:
        table = opened.format
        index = column_index(path, table, mapping.column)
        if index is None:
            key = f"logger.channels.{channel}"
            raise LogError(path, absent(key, mapping.column, table))
        found, remarks = mapped_column(path, table, channel, index, mapping)
        time = find_time(path, table, mapping.time_column, mapping.time_unit, None)
        columns, own = read_clock(opened, time, [index], None)
    values = to_si(found, columns.numbers[index])
    shift_s = _shift_s(path, own, clock) - mapping.delay_s
    on_log = at_instants(clock.time_s, own.time_s + shift_s, values, _start(mapping, own, shift_s))
    return SideChannel(
        values=on_log,
        column=f"{path.name}: {found.column}",
        unit=found.unit or "",
        remarks=tuple(
            f"{path.name}: {text}"
            for text in (*remarks, *columns.skipped, *columns.remarks, *own.remarks)
        ),
    )


def side_path(log_path: Path, name: str) -> Path:
    """Find the file beside a log; ``{stem}`` stands for the log's name without suffixes."""
    bare = log_path.with_suffix("") if log_path.suffix.lower() in _PACKED_SUFFIXES else log_path
    return log_path.parent / name.replace("{stem}", bare.stem)


def _shift_s(path: Path, own: ReadClock, clock: ReadClock) -> float:
    """Tell what to add to the file's own clock to get the log's."""
    if (own.epoch_s is None) != (clock.epoch_s is None):
        raise ClockError(
            path,
            "its clock and the log's cannot be joined: one has dates and times, the other a"
            " running count; name matching time columns in the car file",
        )
    if own.epoch_s is None or clock.epoch_s is None:
        return 0.0
    shift_s = own.epoch_s - clock.epoch_s
    if min(own.epoch_s, clock.epoch_s) >= DAY_S:
        return shift_s
    # One of them tells the time of day without the date: the same day, or either side of midnight.
    return (shift_s + DAY_S / 2) % DAY_S - DAY_S / 2


def _start(mapping: ChannelMapping, own: ReadClock, shift_s: float) -> float:
    """Tell from when on (log's clock) the channel counts."""
    if mapping.valid_from_s is None or own.time_s.size == 0:
        return -np.inf
    return float(own.time_s[0]) + mapping.valid_from_s + shift_s


def side_files(mappings: Mapping[str, ChannelMapping]) -> dict[str, ChannelMapping]:
    """Pick the mappings whose channels live in files of their own."""
    return {name: item for name, item in mappings.items() if item.file is not None}
