"""Read a log into a `RawRecording`: channels in SI, clock as recorded, every row accounted for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ridelog.car.description import Logger
from ridelog.ingest.calibrate import to_si
from ridelog.ingest.clock import (
    TimeColumn,
    find_time,
    is_wall_clock,
    seconds,
    wall_clock_seconds,
)
from ridelog.ingest.columns import ChannelColumn, find_channels, suggestion
from ridelog.ingest.open_log import OpenLog, open_log
from ridelog.ingest.sniff import TableFormat, sniff
from ridelog.ingest.table import Columns, read_columns
from ridelog.recording import FloatArray, RawRecording, Source


def read_log(path: Path, logger: Logger) -> RawRecording:
    """Read a log.

    Parameters
    ----------
    path : Path
        A text table, plain or packed with gzip or zip.
    logger : Logger
        The car file's logger section; needed only where the columns are not the contract's.

    Returns
    -------
    RawRecording
        Every channel found, in SI, on the log's own clock. Missing cells are NaN; the clock is as
        recorded.

    Raises
    ------
    LogError
        When the file cannot be read, or a row or the clock is at fault.
    UnknownLayoutError
        When there is no table, or none of its columns is a known channel.
    """
    path = Path(path)
    log = open_log(path)
    with log.handle:
        table = sniff(path, log.head, whole=log.size_bytes <= len(log.head))
        channels, remarks = find_channels(path, table, logger)
        beside = {name: item for name, item in logger.channels.items() if item.file is not None}
        if not channels and not beside:
            raise suggestion(path, table)
        clock = find_time(path, table, logger.time_column, logger.time_unit, logger.sample_rate_hz)
        columns = _read(log, table, channels, clock)
    time = _time(path, table, clock, columns, logger.sample_rate_hz)
    return RawRecording(
        time_s=time.time_s,
        channels={item.channel: to_si(item, columns.numbers[item.index]) for item in channels},
        source=Source(
            file=path.name,
            layout="",
            sha256=log.sha256,
            rows_read=columns.row_count,
            rows_skipped=columns.skipped,
            rows_skipped_count=columns.skipped_count,
            remarks=(*remarks, *columns.remarks, *time.remarks),
        ),
        columns={item.channel: item.column for item in channels},
        units={item.channel: item.unit or "" for item in channels},
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Time:
    time_s: FloatArray
    epoch_s: float | None
    remarks: tuple[str, ...]


def _read(
    log: OpenLog, table: TableFormat, channels: Sequence[ChannelColumn], clock: TimeColumn
) -> Columns:
    numeric = sorted({item.index for item in channels})
    if clock.index is None:
        return read_columns(log, table, numeric)
    if is_wall_clock(table, clock):
        return read_columns(log, table, numeric, [clock.index])
    return read_columns(log, table, sorted({*numeric, clock.index}))


def _time(
    path: Path, table: TableFormat, clock: TimeColumn, columns: Columns, rate_hz: float | None
) -> _Time:
    if clock.index is not None and is_wall_clock(table, clock):
        time_s, epoch_s = wall_clock_seconds(path, clock.column, columns.texts[clock.index])
        return _Time(time_s=time_s, epoch_s=epoch_s, remarks=())
    values = (
        np.arange(columns.row_count, dtype=np.float64)
        if clock.index is None
        else columns.numbers[clock.index]
    )
    time_s, remarks = seconds(path, clock, values, rate_hz)
    return _Time(time_s=time_s, epoch_s=None, remarks=remarks)
