"""Read a recording of a serial logger as a table: times from its ticks, readings in their units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridelog.errors import UnknownLayoutError
from ridelog.ingest.frame_marks import Mark, marks_of
from ridelog.ingest.frame_names import TIME_COLUMN, channel_columns
from ridelog.ingest.frame_remarks import remarks_of
from ridelog.ingest.frame_runs import LoggerRun, SortedFrames, sort_frames
from ridelog.ingest.frame_times import RunTimes, place_runs
from ridelog.ingest.memory_table import OpenTable, table_format
from ridelog.ingest.open_log import OpenLog
from ridelog.ingest.table import Columns
from ridelog.recording import FloatArray
from ridelog.wire.decode import Decoded, decode
from ridelog.wire.framing import frame
from ridelog.wire.messages import LOGGER_KINDS, ChannelFrame
from ridelog.wire.pack import RECORDING_BODY
from ridelog.wire.readings import physical, raw_reading

MARK_COLUMN = "mark"
RECORDING_MARK = frame(RECORDING_BODY)
_LOOK_BYTES = 1 << 13
_ENOUGH_FRAMES = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrameRecording:
    """A recording taken apart: its runs, their place in time, and what its frames add up to."""

    decoded: Decoded
    frames: SortedFrames
    times: tuple[RunTimes, ...]


def looks_like_frames(head: bytes) -> bool:
    """Tell whether a file is a recording of frames, or just what came down the line.

    Parameters
    ----------
    head : bytes
        The beginning of the file.
    """
    if head.startswith(RECORDING_MARK):
        return True
    if b"\0" not in head[:_LOOK_BYTES]:
        return False
    groups = decode(head[:_LOOK_BYTES]).groups
    kinds = [kind for group in groups for kind in group.kinds.tolist()]
    return sum(kind in LOGGER_KINDS for kind in kinds) >= _ENOUGH_FRAMES


def take_apart(log: OpenLog) -> FrameRecording:
    """Take a recording apart into the logger's runs.

    Parameters
    ----------
    log : OpenLog
        The open recording.

    Raises
    ------
    UnknownLayoutError
        When there is no sample in it that can be understood.
    """
    log.handle.seek(0)
    decoded = decode(log.handle.read())
    frames = sort_frames(decoded)
    if not frames.runs:
        raise UnknownLayoutError(log.path, _nothing(decoded, frames))
    return FrameRecording(decoded=decoded, frames=frames, times=place_runs(frames.runs, decoded))


def read_frames(log: OpenLog) -> OpenTable:
    """Read a recording of a serial logger as a table.

    Parameters
    ----------
    log : OpenLog
        The open recording.

    Returns
    -------
    OpenTable
        A column ``time_s``, one for each channel, under the names of the contract where the
        logger's own description makes one. Delays within a scan are told, not yet undone.

    Raises
    ------
    UnknownLayoutError
        When there is no sample in it that can be understood.
    """
    recording = take_apart(log)
    runs = recording.frames.runs
    columns = _columns_of(runs)
    marks = marks_of(runs, recording.times, recording.decoded)
    names = (TIME_COLUMN, *columns, *((MARK_COLUMN,) if marks else ()))
    units = ("s", *(channel.unit for channel in columns.values()), *(("",) if marks else ()))
    row_count = sum(len(run.ticks) for run in runs)
    bad_count = recording.decoded.bad_count

    def column(index: int) -> FloatArray:
        if marks and index == len(names) - 1:
            return _mark_column(recording, marks)
        return _column(recording, names[index], units[index])

    def read(numeric: Sequence[int], text: Sequence[int] = ()) -> Columns:
        return Columns(
            numbers={index: column(index) for index in numeric},
            texts={},
            row_count=row_count,
            skipped=(f"{bad_count} damaged frames",) if bad_count else (),
            skipped_count=bad_count,
            remarks=remarks_of(recording.frames, recording.times, marks, recording.decoded),
        )

    return OpenTable(
        path=log.path,
        format=table_format(names, units),
        read=read,
        delays_s={
            index: -channel.instant_s
            for index, channel in enumerate(columns.values(), start=1)
            if channel.instant_s
        },
        epoch_s=recording.times[0].epoch_s,
    )


def _columns_of(runs: Sequence[LoggerRun]) -> dict[str, ChannelFrame]:
    """Name the columns of all runs; where runs differ, the first word on a column counts."""
    columns: dict[str, ChannelFrame] = {}
    for run in runs:
        columns = channel_columns(run.channels) | columns
    return columns


def _column(recording: FrameRecording, name: str, unit: str) -> FloatArray:
    """Put a column together from all runs; NaN where a run does not have it."""
    if name == TIME_COLUMN:
        return np.concatenate([times.time_s for times in recording.times])
    return np.concatenate([_readings(run, name, unit) for run in recording.frames.runs])


def _mark_column(recording: FrameRecording, marks: Sequence[Mark]) -> FloatArray:
    """Put each mark's number beside the first sample after it; NaN elsewhere."""
    time_s = _column(recording, TIME_COLUMN, "s")
    numbers = np.full(len(time_s), np.nan)
    places = np.searchsorted(time_s, [mark.time_s for mark in marks])
    numbers[np.minimum(places, len(time_s) - 1)] = [mark.number for mark in marks]
    return numbers


def _readings(run: LoggerRun, name: str, unit: str) -> FloatArray:
    """Readings of one channel of a run in its unit."""
    channel = channel_columns(run.channels).get(name)
    if channel is None or channel.unit != unit:
        return np.full(len(run.ticks), np.nan)
    return physical(raw_reading(run.samples, run.channels, channel.index), channel)


def _nothing(decoded: Decoded, frames: SortedFrames) -> str:
    """Say why a recording holds no samples."""
    if undescribed := sum(frames.not_described.values()):
        return (
            f"holds {undescribed} samples, but the logger never said what its channels are;"
            " record again with ridelog record, which asks for it"
        )
    if frames.misfits:
        return "holds no sample that fits what the logger says of its channels; check its firmware"
    return (
        f"holds no samples ({decoded.good_count} other frames, {decoded.bad_count} damaged);"
        " record again"
    )
