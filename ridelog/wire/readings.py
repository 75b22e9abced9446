"""Readings of many sample frames at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ridelog.wire.decode import ByteArray, FrameGroup
from ridelog.wire.messages import ChannelFrame
from ridelog.wire.pack import HEAD

FloatArray = npt.NDArray[np.float64]
RawArray = npt.NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SampleHeads:
    """Run, sequence (modulo 2^16) and ticks (modulo 2^32) of sample frames, each shape (n,)."""

    runs: npt.NDArray[np.uint8]
    sequences: npt.NDArray[np.uint16]
    ticks: npt.NDArray[np.uint32]


def sample_heads(group: FrameGroup) -> SampleHeads:
    """Read what sample frames begin with.

    Parameters
    ----------
    group : FrameGroup
        Sample frames.
    """
    return SampleHeads(
        runs=group.bodies[1],
        sequences=_numbers(group.bodies[2:4], "<u2"),
        ticks=_numbers(group.bodies[4:8], "<u4"),
    )


def sample_body_bytes(channels: Sequence[ChannelFrame]) -> int:
    """How long the body of a sample frame is with these channels.

    Parameters
    ----------
    channels : sequence of ChannelFrame
        All of the logger's.
    """
    return HEAD.size + sum(np.dtype(channel.format).itemsize for channel in channels)


def raw_readings(group: FrameGroup, channels: Sequence[ChannelFrame]) -> list[RawArray]:
    """Read the numbers of each channel as they were sent.

    Parameters
    ----------
    group : FrameGroup
        Sample frames of `sample_body_bytes`.
    channels : sequence of ChannelFrame
        All of the logger's, in order.

    Returns
    -------
    list of ndarray, each of shape (n,)
        In the channel's own format.
    """
    return [raw_reading(group, channels, index) for index in range(len(channels))]


def raw_reading(group: FrameGroup, channels: Sequence[ChannelFrame], index: int) -> RawArray:
    """Read the numbers of one channel as they were sent.

    Parameters
    ----------
    group : FrameGroup
        Sample frames of `sample_body_bytes`.
    channels : sequence of ChannelFrame
        All of the logger's, in order.
    index : int
        Which of them.

    Returns
    -------
    ndarray, shape (n,)
        In the channel's own format.
    """
    place = sample_body_bytes(channels[:index])
    kind = channels[index].format
    return _numbers(group.bodies[place : place + np.dtype(kind).itemsize], kind)


def physical(raw: RawArray, channel: ChannelFrame) -> FloatArray:
    """Turn the numbers of a channel into its unit; a failed reading is NaN.

    Parameters
    ----------
    raw : ndarray of int, shape (n,)
        As they were sent.
    channel : ChannelFrame
        What the logger says of it.
    """
    values: FloatArray = raw.astype(np.float64)
    values *= channel.scale
    values += channel.offset
    values[raw == failed_reading(channel)] = np.nan
    return values


def failed_reading(channel: ChannelFrame) -> int:
    """Return the number that stands for a reading that failed.

    Parameters
    ----------
    channel : ChannelFrame
        The channel.
    """
    limits = np.iinfo(np.dtype(channel.format))
    return int(limits.min if limits.kind == "i" else limits.max)


def _numbers(rows: ByteArray, kind: str) -> RawArray:
    """Put numbers together from rows of bytes, low byte first."""
    # Shifting whole rows is several times faster than turning them into columns.
    joined = rows[0].astype(f"<u{len(rows)}")
    for place, row in enumerate(rows[1:], start=1):
        joined |= row.astype(joined.dtype) << (8 * place)
    numbers: RawArray = joined.view(kind)
    return numbers
