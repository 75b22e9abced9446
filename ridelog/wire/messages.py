"""What frames say, field by field, as `firmware_notes/wire_format.md` documents it."""

from __future__ import annotations

from dataclasses import dataclass

VERSION = 1
"""High nibble of every kind."""

SAMPLE = 0x11
STATUS = 0x12
LOGGER = 0x13
CHANNEL = 0x14
MARK = 0x15
COMMAND = 0x19
HOST_TIME = 0x1A
RECORDING = 0x1B
HOST_EVENT = 0x1C
LOGGER_KINDS = frozenset({SAMPLE, STATUS, LOGGER, CHANNEL, MARK})
FILE_KINDS = frozenset({HOST_TIME, RECORDING, HOST_EVENT})

DESCRIBE = 1
START = 2
STOP = 3
SET_RATE = 4
SET_MARK = 5

PORT_OPENED = 1
PORT_LOST = 2
HOST_MARK = 3
RECORDING_ENDED = 4

MEASURES = (
    "other",
    "travel",
    "body",
    "hub",
    "cabin",
    "seat",
    "body_long",
    "body_lat",
    "speed",
)
"""What a channel measures, by its number."""
PLACES = ("", "fl", "fr", "rl", "rr")
"""Corners by their number."""
FORMATS = {0x01: "<u1", 0x81: "<i1", 0x02: "<u2", 0x82: "<i2", 0x04: "<u4", 0x84: "<i4"}
"""Numbers as numpy names them, by a channel's format."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What every frame of a logger begins with."""

    run: int
    sequence: int
    ticks: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggerFrame:
    """Who the logger is: one half of its self-description."""

    head: Head
    channel_count: int
    ticks_per_s: int
    rate_hz: float
    device: int
    firmware: tuple[int, int]
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelFrame:
    """One channel: the other half.

    A reading in `unit` is `offset` + `scale` times the number sent. Numbers at or beyond
    `zero_scale` and `full_scale` are the sensor's limits. A reading was true `instant_s` after its
    frame's ticks.
    """

    head: Head
    index: int
    measure: str
    place: str
    format: str
    scale: float
    offset: float
    zero_scale: int
    full_scale: int
    instant_s: float
    unit: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusFrame:
    """Where the samples went: `due` = sent + `missed` + `dropped`, since boot."""

    head: Head
    due: int
    missed: int
    dropped: int
    supply_v: float | None
    sampling: bool
    refused: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkFrame:
    """A mark that the logger stamped."""

    head: Head
    by_command: bool
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HostTime:
    """The host's clocks [ns] when the frames that follow were written."""

    utc_ns: int
    steady_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HostEvent:
    """Something that happened at the host."""

    code: int
    number: int
    words: str


Message = LoggerFrame | ChannelFrame | StatusFrame | MarkFrame | HostTime | HostEvent
