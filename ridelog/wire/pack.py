"""Messages to the bodies of frames."""

from __future__ import annotations

import struct

from ridelog.wire.messages import (
    CHANNEL,
    COMMAND,
    FORMATS,
    HOST_EVENT,
    HOST_TIME,
    LOGGER,
    MARK,
    MEASURES,
    PLACES,
    RECORDING,
    STATUS,
    ChannelFrame,
    Head,
    HostEvent,
    HostTime,
    LoggerFrame,
    MarkFrame,
    StatusFrame,
)

HEAD = struct.Struct("<BBHI")
LOGGER_FIELDS = struct.Struct("<BIIIH")
CHANNEL_FIELDS = struct.Struct("<BBBBffiii")
STATUS_FIELDS = struct.Struct("<IIIHBB")
MARK_FIELDS = struct.Struct("<BI")
COMMAND_FIELDS = struct.Struct("<BBI")
HOST_TIME_FIELDS = struct.Struct("<Bqq")
HOST_EVENT_FIELDS = struct.Struct("<BBI")
_LONGEST_WORDS_BYTES = 200

RECORDING_BODY = bytes([RECORDING]) + b"ridelog recording"
"""What a recording begins with."""


def pack_command(code: int, argument: int = 0) -> bytes:
    """Body of a command to the logger.

    Parameters
    ----------
    code : int
        What to do.
    argument : int
        Its argument.
    """
    return COMMAND_FIELDS.pack(COMMAND, code, argument)


def pack_host_time(time: HostTime) -> bytes:
    """Body of a record of the host's clocks.

    Parameters
    ----------
    time : HostTime
        Both clocks.
    """
    return HOST_TIME_FIELDS.pack(HOST_TIME, time.utc_ns, time.steady_ns)


def pack_host_event(event: HostEvent) -> bytes:
    """Body of a record of something that happened at the host; long words are cut.

    Parameters
    ----------
    event : HostEvent
        What happened.
    """
    words = event.words.encode()[:_LONGEST_WORDS_BYTES]
    return HOST_EVENT_FIELDS.pack(HOST_EVENT, event.code, event.number) + words


def pack_logger(logger: LoggerFrame) -> bytes:
    """Body of a logger's frame about itself.

    Parameters
    ----------
    logger : LoggerFrame
        Who it is.
    """
    major, minor = logger.firmware
    fixed = LOGGER_FIELDS.pack(
        logger.channel_count,
        logger.ticks_per_s,
        round(1000 * logger.rate_hz),
        logger.device,
        major << 8 | minor,
    )
    return _head(LOGGER, logger.head) + fixed + _text(logger.name)


def pack_channel(channel: ChannelFrame) -> bytes:
    """Body of a logger's frame about one of its channels.

    Parameters
    ----------
    channel : ChannelFrame
        The channel.
    """
    number = next(code for code, kind in FORMATS.items() if kind == channel.format)
    fixed = CHANNEL_FIELDS.pack(
        channel.index,
        MEASURES.index(channel.measure),
        PLACES.index(channel.place),
        number,
        channel.scale,
        channel.offset,
        channel.zero_scale,
        channel.full_scale,
        round(1e9 * channel.instant_s),
    )
    return _head(CHANNEL, channel.head) + fixed + _text(channel.unit) + _text(channel.name)


def pack_status(status: StatusFrame) -> bytes:
    """Body of a status frame.

    Parameters
    ----------
    status : StatusFrame
        The counts.
    """
    supply_mv = round(1000 * (status.supply_v or 0.0))
    counts = (status.due, status.missed, status.dropped, supply_mv)
    return _head(STATUS, status.head) + STATUS_FIELDS.pack(*counts, status.sampling, status.refused)


def pack_mark(mark: MarkFrame) -> bytes:
    """Body of a mark.

    Parameters
    ----------
    mark : MarkFrame
        The mark.
    """
    return _head(MARK, mark.head) + MARK_FIELDS.pack(mark.by_command, mark.number)


def _head(kind: int, head: Head) -> bytes:
    return HEAD.pack(kind, head.run, head.sequence, head.ticks)


def _text(words: str) -> bytes:
    encoded = words.encode()
    return bytes([len(encoded)]) + encoded
