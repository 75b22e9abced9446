"""Sort the frames of a recording by the logger's runs: samples, descriptions, counts, marks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from ridelog.recording import BoolArray, IntArray
from ridelog.wire.decode import Decoded, FrameGroup
from ridelog.wire.messages import (
    CHANNEL,
    LOGGER,
    MARK,
    SAMPLE,
    STATUS,
    ChannelFrame,
    LoggerFrame,
    MarkFrame,
    StatusFrame,
)
from ridelog.wire.pack import HEAD
from ridelog.wire.readings import sample_body_bytes, sample_heads
from ridelog.wire.unpack import unpack

_HALF_RANGE = 1 << 31
"""Ticks that jump by more are taken to have gone back: the logger began anew."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoggerRun:
    """What a logger sent between two boots.

    `samples` are in the order they came, with `sequences` (modulo 2^16) and `ticks` (counted on
    over the wrap), shape (n,). Statuses and marks come with the place in the file where they stood.
    """

    number: int
    logger: LoggerFrame
    channels: tuple[ChannelFrame, ...]
    samples: FrameGroup
    sequences: IntArray
    ticks: IntArray
    statuses: tuple[tuple[int, StatusFrame], ...] = ()
    marks: tuple[tuple[int, MarkFrame], ...] = ()

    def status_ticks(self) -> IntArray:
        """Ticks of the statuses, counted on like those of the samples."""
        return self._ticks_at([(place, status.head.ticks) for place, status in self.statuses])

    def mark_ticks(self) -> IntArray:
        """Ticks of the marks, counted on like those of the samples."""
        return self._ticks_at([(place, mark.head.ticks) for place, mark in self.marks])

    def _ticks_at(self, stamps: Iterable[tuple[int, int]]) -> IntArray:
        """Count ticks on from the sample that stood before."""
        places, ticks = np.array(list(stamps), dtype=np.int64).reshape(-1, 2).T
        before = np.maximum(np.searchsorted(self.samples.starts, places) - 1, 0)
        near = self.ticks[before]
        return near + _signed(ticks - near)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SortedFrames:
    """Runs in the order they came, and how many samples could not be understood, and why."""

    runs: tuple[LoggerRun, ...]
    not_described: dict[int, int]
    misfits: int
    misplaced: int


class _Descriptions:
    """What the frames say of each run; the first word on a channel counts."""

    def __init__(self, decoded: Decoded) -> None:
        self.loggers: dict[int, LoggerFrame] = {}
        self._channels: dict[int, dict[int, ChannelFrame]] = {}
        self.statuses: dict[int, list[tuple[int, StatusFrame]]] = {}
        self.marks: dict[int, list[tuple[int, MarkFrame]]] = {}
        for place, body in decoded.in_order(frozenset({LOGGER, CHANNEL, STATUS, MARK})):
            match unpack(body):
                case LoggerFrame() as logger:
                    self.loggers[logger.head.run] = logger
                case ChannelFrame() as channel:
                    run = self._channels.setdefault(channel.head.run, {})
                    run.setdefault(channel.index, channel)
                case StatusFrame() as status:
                    self.statuses.setdefault(status.head.run, []).append((place, status))
                case MarkFrame() as mark:
                    self.marks.setdefault(mark.head.run, []).append((place, mark))

    def channels(self, run: int) -> tuple[ChannelFrame, ...]:
        """Return all channels of a run, or none where some were never described."""
        logger, known = self.loggers.get(run), self._channels.get(run, {})
        count = logger.channel_count if logger else 0
        found = [known[index] for index in range(count) if index in known]
        return tuple(found) if len(found) == count else ()


def sort_frames(decoded: Decoded) -> SortedFrames:
    """Sort the frames of a recording by the logger's runs.

    Parameters
    ----------
    decoded : Decoded
        The good frames.

    Returns
    -------
    SortedFrames
        Every sample frame is in a run or counted. A run whose ticks go back is two.
    """
    said = _Descriptions(decoded)
    runs: list[LoggerRun] = []
    not_described: dict[int, int] = {}
    misfits = misplaced = 0
    for group in decoded.of_kind(SAMPLE):
        if len(group.bodies) < HEAD.size:
            misfits += len(group.starts)
            continue
        numbers = sample_heads(group).runs
        for number in np.flatnonzero(np.bincount(numbers)).tolist():
            of_run = numbers == number
            samples = group if of_run.all() else group.only(of_run)
            channels = said.channels(number)
            if not channels:
                seen = not_described.get(number, 0)
                not_described[number] = seen + len(samples.starts)
            elif sample_body_bytes(channels) != len(group.bodies):
                misfits += len(samples.starts)
            else:
                kept = _without_misplaced(samples)
                misplaced += len(samples.starts) - len(kept.starts)
                runs += _runs_of(number, channels, kept, said)
    runs.sort(key=lambda run: int(run.samples.starts[0]))
    return SortedFrames(
        runs=tuple(runs), not_described=not_described, misfits=misfits, misplaced=misplaced
    )


def _runs_of(
    number: int, channels: tuple[ChannelFrame, ...], samples: FrameGroup, said: _Descriptions
) -> list[LoggerRun]:
    """Make one run of samples, or several where the ticks go back."""
    heads = sample_heads(samples)
    steps = np.diff(heads.ticks)  # modulo 2^32, as the ticks themselves
    cuts = np.flatnonzero(steps >= _HALF_RANGE) + 1
    places = [0, *samples.starts[cuts].tolist(), np.iinfo(np.int64).max]
    whole = LoggerRun(
        number=number,
        logger=said.loggers[number],
        channels=channels,
        samples=samples,
        sequences=heads.sequences.astype(np.int64),
        ticks=int(heads.ticks[0]) + np.concatenate([[0], np.cumsum(steps, dtype=np.int64)]),
        statuses=tuple(said.statuses.get(number, ())),
        marks=tuple(said.marks.get(number, ())),
    )
    if not len(cuts):
        return [whole]
    return [_between(whole, begin, end) for begin, end in pairwise(places)]


def _between(run: LoggerRun, begin: int, end: int) -> LoggerRun:
    """Take the part of a run that stands between two places of the file."""
    chosen = (run.samples.starts >= begin) & (run.samples.starts < end)
    ticks = run.ticks[chosen]
    return replace(
        run,
        samples=run.samples.only(chosen),
        sequences=run.sequences[chosen],
        ticks=ticks - ticks[0] + ticks[0] % (1 << 32),
        statuses=tuple(each for each in run.statuses if begin <= each[0] < end),
        marks=tuple(each for each in run.marks if begin <= each[0] < end),
    )


def _without_misplaced(samples: FrameGroup) -> FrameGroup:
    """Leave out single samples whose ticks lie outside those of their neighbours.

    One damaged frame in 65 536 has a right CRC by chance; its time gives it away.
    """
    ticks = sample_heads(samples).ticks.astype(np.int64)
    if len(ticks) < 3:
        return samples
    step, over = _signed(ticks[1:-1] - ticks[:-2]), _signed(ticks[2:] - ticks[:-2])
    misplaced: BoolArray = np.concatenate(
        [[False], (over > 0) & ((step <= 0) | (step >= over)), [False]]
    )
    return samples.only(~misplaced) if misplaced.any() else samples


def _signed(ticks: npt.NDArray[np.int64]) -> IntArray:
    """Read differences of ticks modulo 2^32 as the smaller way round."""
    wrapped: IntArray = (ticks + _HALF_RANGE) % (1 << 32) - _HALF_RANGE
    return wrapped
