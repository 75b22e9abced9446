"""Bodies of frames to messages."""

from __future__ import annotations

import math
import struct
from collections.abc import Callable

from ridelog.wire.messages import (
    CHANNEL,
    FORMATS,
    HOST_EVENT,
    HOST_TIME,
    LOGGER,
    MARK,
    MEASURES,
    PLACES,
    STATUS,
    ChannelFrame,
    Head,
    HostEvent,
    HostTime,
    LoggerFrame,
    MarkFrame,
    Message,
    StatusFrame,
)
from ridelog.wire.pack import (
    CHANNEL_FIELDS,
    HEAD,
    HOST_EVENT_FIELDS,
    HOST_TIME_FIELDS,
    LOGGER_FIELDS,
    MARK_FIELDS,
    STATUS_FIELDS,
)

MOST_CHANNELS = 64


def unpack(body: bytes) -> Message | None:
    """Read a body; samples are read by `readings.py`, many at a time.

    Parameters
    ----------
    body : bytes
        A body whose CRC was right.

    Returns
    -------
    message or None
        None where the kind is unknown, or lengths or numbers are not as documented.
    """
    reader = _READERS.get(body[0]) if body else None
    if reader is None:
        return None
    try:
        return reader(body)
    except (struct.error, IndexError, KeyError, ValueError):
        return None


def _head_of(body: bytes) -> Head:
    _, run, sequence, ticks = HEAD.unpack_from(body)
    return Head(run=run, sequence=sequence, ticks=ticks)


def _texts_at(body: bytes, place: int, count: int) -> list[str]:
    """Read texts that must fill the rest of a body. They reach terminals: nothing but print."""
    texts = []
    for _ in range(count):
        end = place + 1 + body[place]
        if end > len(body):
            raise ValueError("a text is cut off")
        words = body[place + 1 : end].decode(errors="replace")
        texts.append("".join(mark for mark in words if mark.isprintable()).strip())
        place = end
    if place != len(body):
        raise ValueError("something stands behind the last text")
    return texts


def _read_logger(body: bytes) -> LoggerFrame:
    count, ticks_per_s, rate_mhz, device, firmware = LOGGER_FIELDS.unpack_from(body, HEAD.size)
    if not 1 <= count <= MOST_CHANNELS or ticks_per_s == 0 or rate_mhz == 0:
        raise ValueError("no channels, ticks or rate")
    (name,) = _texts_at(body, HEAD.size + LOGGER_FIELDS.size, 1)
    return LoggerFrame(
        head=_head_of(body),
        channel_count=count,
        ticks_per_s=ticks_per_s,
        rate_hz=rate_mhz / 1000,
        device=device,
        firmware=(firmware >> 8, firmware & 0xFF),
        name=name,
    )


def _read_channel(body: bytes) -> ChannelFrame:
    fields = CHANNEL_FIELDS.unpack_from(body, HEAD.size)
    index, measure, place, kind, scale, offset, zero_scale, full_scale, instant_ns = fields
    if index >= MOST_CHANNELS or scale == 0 or not math.isfinite(scale + offset):
        raise ValueError("no scale")
    unit, name = _texts_at(body, HEAD.size + CHANNEL_FIELDS.size, 2)
    return ChannelFrame(
        head=_head_of(body),
        index=index,
        measure=MEASURES[measure],
        place=PLACES[place],
        format=FORMATS[kind],
        scale=scale,
        offset=offset,
        zero_scale=zero_scale,
        full_scale=full_scale,
        instant_s=instant_ns / 1e9,
        unit=unit,
        name=name,
    )


def _read_status(body: bytes) -> StatusFrame:
    due, missed, dropped, supply_mv, state, refused = STATUS_FIELDS.unpack(body[HEAD.size :])
    return StatusFrame(
        head=_head_of(body),
        due=due,
        missed=missed,
        dropped=dropped,
        supply_v=supply_mv / 1000 if supply_mv else None,
        sampling=bool(state & 1),
        refused=refused,
    )


def _read_mark(body: bytes) -> MarkFrame:
    by_command, number = MARK_FIELDS.unpack(body[HEAD.size :])
    return MarkFrame(head=_head_of(body), by_command=bool(by_command), number=number)


def _read_host_time(body: bytes) -> HostTime:
    _, utc_ns, steady_ns = HOST_TIME_FIELDS.unpack(body)
    return HostTime(utc_ns=utc_ns, steady_ns=steady_ns)


def _read_host_event(body: bytes) -> HostEvent:
    _, code, number = HOST_EVENT_FIELDS.unpack_from(body)
    words = body[HOST_EVENT_FIELDS.size :].decode(errors="replace")
    printable = "".join(mark for mark in words if mark.isprintable())
    return HostEvent(code=code, number=number, words=printable)


_READERS: dict[int, Callable[[bytes], Message]] = {
    LOGGER: _read_logger,
    CHANNEL: _read_channel,
    STATUS: _read_status,
    MARK: _read_mark,
    HOST_TIME: _read_host_time,
    HOST_EVENT: _read_host_event,
}
