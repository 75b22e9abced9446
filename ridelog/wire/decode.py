"""Take a stretch of the line, or a whole recording, apart into its good frames.

Own code, because ten minutes of a fast logger are two million frames: libraries for COBS and CRC
take one at a time. Here all frames of one length are decoded side by side, a byte position at a
time. The tests hold it against such libraries.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from ridelog.wire.framing import CRC_BYTES, LONGEST_CONTENT_BYTES

ByteArray = npt.NDArray[np.uint8]
IndexArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

_CODE_BYTES = 1
_SHORTEST = _CODE_BYTES + 1 + CRC_BYTES
_LONGEST = _CODE_BYTES + LONGEST_CONTENT_BYTES
# So many frames decoded side by side stay within a processor's nearest caches.
_SIDE_BY_SIDE = 1 << 13


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrameGroup:
    """Good frames of one length.

    `bodies` has one column for each frame, shape (bytes, frames); `starts` is where each frame
    begins in the bytes that were decoded, ascending.
    """

    starts: IndexArray
    bodies: ByteArray

    @property
    def kinds(self) -> ByteArray:
        """First byte of each body."""
        kinds: ByteArray = self.bodies[0]
        return kinds

    def only(self, chosen: BoolArray) -> FrameGroup:
        """Return some of the frames."""
        return FrameGroup(starts=self.starts[chosen], bodies=self.bodies[:, chosen])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decoded:
    """What a stretch of bytes held: good frames, how many bad ones, bytes of an unfinished one."""

    groups: tuple[FrameGroup, ...]
    bad_count: int
    rest_bytes: int

    @property
    def good_count(self) -> int:
        """How many frames are good."""
        return sum(len(group.starts) for group in self.groups)

    def of_kind(self, kind: int) -> Iterator[FrameGroup]:
        """Yield the frames of one kind, by their length."""
        for group in self.groups:
            chosen = group.kinds == kind
            if chosen.all():
                yield group
            elif chosen.any():
                yield group.only(chosen)

    def in_order(self, kinds: frozenset[int]) -> list[tuple[int, bytes]]:
        """Return place and body of the frames of some kinds, in the order they came."""
        found: list[tuple[int, bytes]] = []
        for kind in kinds:
            for group in self.of_kind(kind):
                found += zip(group.starts.tolist(), map(bytes, group.bodies.T), strict=True)
        return sorted(found)


def decode(data: bytes | ByteArray) -> Decoded:
    """Find the good frames in some bytes, wherever they begin and end.

    Parameters
    ----------
    data : bytes or ndarray of uint8, shape (n,)
        What came over the line, or a recording; damaged or cut in any way.

    Returns
    -------
    Decoded
        The frames with a right CRC. Every zero byte ends one and begins the next.
    """
    line = np.frombuffer(data, dtype=np.uint8) if isinstance(data, bytes) else data
    ends = np.flatnonzero(line == 0)
    starts = np.concatenate([[0], ends[:-1] + 1]).astype(np.int64)[: len(ends)]
    lengths = ends - starts
    rest_bytes = len(line) - (int(ends[-1]) + 1 if len(ends) else 0)
    seen_count = int(np.count_nonzero(lengths))
    possible = (lengths >= _SHORTEST) & (lengths <= _LONGEST)
    starts, lengths = starts[possible], lengths[possible]
    order = np.argsort(lengths.astype(np.uint8), kind="stable")
    found, firsts = np.unique(lengths[order], return_index=True)
    bounds = pairwise([*firsts.tolist(), len(order)])
    groups = [
        _decode_group(line, starts[order[begin:end]], length)
        for length, (begin, end) in zip(found.tolist(), bounds, strict=True)
    ]
    good = tuple(group for group in groups if len(group.starts))
    good_count = sum(len(group.starts) for group in good)
    return Decoded(groups=good, bad_count=seen_count - good_count, rest_bytes=rest_bytes)


def _decode_group(line: ByteArray, starts: IndexArray, length: int) -> FrameGroup:
    """Decode frames of one length."""
    rows = np.lib.stride_tricks.sliding_window_view(line, length)
    bodies = np.empty((length - _CODE_BYTES - CRC_BYTES, len(starts)), dtype=np.uint8)
    good = np.empty(len(starts), dtype=np.bool_)
    for begin in range(0, len(starts), _SIDE_BY_SIDE):
        part = slice(begin, begin + _SIDE_BY_SIDE)
        content, whole = _with_zeros(np.ascontiguousarray(rows[starts[part]].T))
        good[part] = whole & (_crc16(content) == 0)
        bodies[:, part] = content[:-CRC_BYTES]
    if good.all():
        return FrameGroup(starts=starts, bodies=bodies)
    return FrameGroup(starts=starts, bodies=bodies).only(good)


def _with_zeros(encoded: ByteArray) -> tuple[ByteArray, BoolArray]:
    """Put the zero bytes back in; also tell which frames end where their codes say.

    `encoded` has shape (bytes, frames). `left` counts down to the next code byte.
    """
    content = encoded[1:].copy()
    left = encoded[0].copy()
    for row in content:
        left -= 1
        code_mask = np.negative((left == 0).view(np.uint8))  # FF at a code, else 00: no branches
        left |= row & code_mask
        np.bitwise_and(row, ~code_mask, out=row)
    return content, left == 1


def _crc_table() -> npt.NDArray[np.uint16]:
    """Table of the CRC's step for each byte, by the bits of its polynomial."""
    table = np.arange(256) << 8
    for _ in range(8):
        table = np.where(table & 0x8000, table << 1 ^ 0x1021, table << 1)
    return table.astype(np.uint16)


_CRC_TABLE = _crc_table()


def _crc16(content: ByteArray) -> npt.NDArray[np.uint16]:
    """CRC-16/CCITT-FALSE of each column; 0 for a body with its right CRC behind it."""
    crc: npt.NDArray[np.uint16] = np.full(content.shape[1], 0xFFFF, dtype=np.uint16)
    for row in content:
        crc = (crc << 8) ^ np.take(_CRC_TABLE, (crc >> 8) ^ row, mode="wrap")
    return crc
