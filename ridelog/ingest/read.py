"""Read a log into a `RawRecording`: channels in SI, clock as recorded, every row accounted for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np

from ridelog.car.description import ChannelMapping, Logger
from ridelog.ingest.calibrate import to_si
from ridelog.ingest.clock import ReadClock, find_time, read_clock
from ridelog.ingest.columns import ChannelColumn, find_channels
from ridelog.ingest.names import suggestion
from ridelog.ingest.open_log import sha256_of
from ridelog.ingest.open_table import open_table
from ridelog.ingest.side_files import read_side_channel, side_files
from ridelog.ingest.table import Columns
from ridelog.ingest.table_chunks import TellShare
from ridelog.recording import FloatArray, RawRecording, Source


def read_log(path: Path, logger: Logger, tell: TellShare | None = None) -> RawRecording:
    """Read a log.

    Parameters
    ----------
    path : Path
        A text table or a recording of a serial logger, plain or packed with gzip or zip; Parquet;
        MDF 4.
    logger : Logger
        The car file's logger section; needed only where the columns are not the contract's.
    tell : callable, optional
        Told the share read so far, 0 to 1, while a text table is read.

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
    with open_table(path, tell) as opened, ThreadPoolExecutor(max_workers=1) as pool:
        digest = pool.submit(sha256_of, path)  # hashing costs nothing beside the parsing
        table = opened.format
        found, remarks = find_channels(path, table, logger)
        beside = side_files(logger.channels)
        if not found and not beside:
            raise suggestion(path, table)
        time = find_time(path, table, logger.time_column, logger.time_unit, logger.sample_rate_hz)
        indexes = [index for item in found for index in _columns_of(item)]
        columns, clock = read_clock(opened, time, indexes, logger.sample_rate_hz)
    source = Source(
        file=path.name,
        layout=_layout(found),
        sha256=digest.result(),
        rows_read=columns.row_count,
        rows_skipped=columns.skipped,
        rows_skipped_count=columns.skipped_count,
        remarks=(*remarks, *columns.remarks, *clock.remarks),
    )
    recording = RawRecording(
        time_s=clock.time_s,
        channels=_channels(found, columns, clock),
        source=source,
        columns={item.channel: item.column for item in found},
        units={item.channel: item.unit or "" for item in found},
        delays_s=_delays(found, opened.delays_s),
    )
    return _with_side_channels(recording, path, beside, clock)


def _columns_of(item: ChannelColumn) -> tuple[int, ...]:
    """Name the columns that a channel is made of."""
    return (item.index, *(index for index, _ in item.cross_axis))


def _delays(found: tuple[ChannelColumn, ...], of_columns: Mapping[int, float]) -> dict[str, float]:
    """Add up the delays that the car file states and those that the log tells itself."""
    delays = {
        item.channel: item.mapping.delay_s + of_columns.get(item.index, 0.0) for item in found
    }
    return {channel: delay_s for channel, delay_s in delays.items() if delay_s}


def _channels(
    found: tuple[ChannelColumn, ...], columns: Columns, clock: ReadClock
) -> dict[str, FloatArray]:
    """Turn each column into SI, letting go of its readings as soon as nobody needs them."""
    channels = {}
    uses = Counter(index for item in found for index in _columns_of(item))
    for item in found:
        others = [columns.numbers[index] for index, _ in item.cross_axis]
        values = to_si(item, columns.numbers[item.index], others)
        for index in _columns_of(item):
            uses[index] -= 1
            if uses[index] == 0:
                del columns.numbers[index]
        start_s = item.mapping.valid_from_s
        if start_s is not None:
            values[clock.time_s < clock.time_s[0] + start_s] = np.nan
        channels[item.channel] = values
    return channels


def _with_side_channels(
    recording: RawRecording, path: Path, beside: Mapping[str, ChannelMapping], clock: ReadClock
) -> RawRecording:
    """Add the channels that live in files beside the log, unless the log has them itself."""
    extra = {
        name: read_side_channel(path, name, mapping, clock)
        for name, mapping in beside.items()
        if name not in recording.channels
    }
    if not extra:
        return recording
    noted = tuple(text for item in extra.values() for text in item.remarks)
    return replace(
        recording,
        channels=dict(recording.channels) | {name: item.values for name, item in extra.items()},
        source=replace(recording.source, remarks=(*recording.source.remarks, *noted)),
        columns=dict(recording.columns) | {name: item.column for name, item in extra.items()},
        units=dict(recording.units) | {name: item.unit for name, item in extra.items()},
    )


def _layout(found: tuple[ChannelColumn, ...]) -> str:
    """Name the layout for the record."""
    mapped = any(item.mapped for item in found)
    return "columns named in the car file" if mapped or not found else "ridelog columns"
