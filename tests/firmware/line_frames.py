"""A second, independent reading of the wire format: byte by byte, with the standard library's CRC.

Written from firmware_notes/wire_format.md alone, so that a mistake in ridelog's own codec and the
same mistake in the firmware cannot cancel.
"""

from __future__ import annotations

import binascii
import struct
from dataclasses import dataclass, field

HEAD = "<BBHI"
FORMATS = {0x01: "B", 0x81: "b", 0x02: "H", 0x82: "h", 0x04: "I", 0x84: "i"}


@dataclass(frozen=True)
class Frame:
    kind: int
    run: int
    sequence: int
    ticks: int
    rest: bytes


@dataclass(frozen=True)
class Status:
    due: int
    missed: int
    dropped: int
    supply_mv: int
    sampling: bool
    refused: int


@dataclass(frozen=True)
class Channel:
    measure: int
    corner: int
    format: str
    scale: float
    offset: float
    low: int
    high: int
    instant_ns: int
    unit: str
    name: str


@dataclass
class Line:
    """All frames of a stretch of line, in order, and what could not be read."""

    frames: list[Frame] = field(default_factory=list)
    bad: int = 0

    def of(self, kind: int) -> list[Frame]:
        return [frame for frame in self.frames if frame.kind == kind]

    @property
    def statuses(self) -> list[Status]:
        return [status(frame) for frame in self.of(0x12)]

    @property
    def channels(self) -> list[Channel]:
        found = {frame.rest[0]: channel(frame) for frame in self.of(0x14)}
        return [found[index] for index in sorted(found)]

    @property
    def rates_hz(self) -> list[float]:
        return [struct.unpack_from("<I", frame.rest, 5)[0] / 1000 for frame in self.of(0x13)]

    def samples(self) -> list[tuple[int, int, tuple[int, ...]]]:
        """Sequence, ticks and readings of every sample."""
        layout = "<" + "".join(channel.format for channel in self.channels)
        return [(f.sequence, f.ticks, struct.unpack(layout, f.rest)) for f in self.of(0x11)]


def read_line(data: bytes | bytearray) -> Line:
    line = Line()
    pieces = bytes(data).split(b"\0")
    for piece in pieces[:-1]:
        if not piece:
            continue
        content = without_cobs(piece)
        if content is None or len(content) < 10 or binascii.crc_hqx(content, 0xFFFF):
            line.bad += 1
            continue
        line.frames.append(Frame(*struct.unpack_from(HEAD, content), content[8:-2]))
    return line


def without_cobs(piece: bytes) -> bytes | None:
    content, at = bytearray(), 0
    while at < len(piece):
        code = piece[at]
        if at + code > len(piece):
            return None
        content += piece[at + 1 : at + code]
        at += code
        if code < 0xFF and at < len(piece):
            content.append(0)
    return bytes(content)


def status(frame: Frame) -> Status:
    due, missed, dropped, supply_mv, flags, refused = struct.unpack("<IIIHBB", frame.rest)
    return Status(due, missed, dropped, supply_mv, flags == 1, refused)


def channel(frame: Frame) -> Channel:
    _, measure, corner, code, scale, offset, low, high, instant_ns = struct.unpack_from(
        "<BBBBffiii", frame.rest
    )
    texts, at = [], 24
    for _ in range(2):
        length = frame.rest[at]
        texts.append(frame.rest[at + 1 : at + 1 + length].decode())
        at += 1 + length
    assert at == len(frame.rest)
    return Channel(
        measure, corner, FORMATS[code], scale, offset, low, high, instant_ns, texts[0], texts[1]
    )


def command(code: int, argument: int = 0) -> bytes:
    body = struct.pack("<BBI", 0x19, code, argument)
    content = body + struct.pack(">H", binascii.crc_hqx(body, 0xFFFF))
    encoded, piece = bytearray(), bytearray()
    for byte in content + b"\0":
        if byte:
            piece.append(byte)
        else:
            encoded += bytes([len(piece) + 1]) + piece
            piece.clear()
    return bytes(encoded) + b"\0"


DESCRIBE, START, STOP, SET_RATE, MARK = range(1, 6)
