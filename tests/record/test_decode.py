"""Taking whole files apart: any bytes, any damage, any end; against a library, frame by frame."""

from __future__ import annotations

import binascii

import numpy as np
import pytest
from cobs import cobs
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridelog.wire.decode import decode
from ridelog.wire.framing import LONGEST_CONTENT_BYTES, frame
from tests.record.logger_frames import MadeUpLogger, readings

BODIES = st.lists(st.binary(min_size=1, max_size=LONGEST_CONTENT_BYTES - 2), max_size=30)
JUNK = st.binary(max_size=40)
UNHURRIED = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


def one_by_one(line: bytes) -> list[bytes]:
    """Decode as the document says, with the package cobs and the standard library's CRC."""
    found = []
    for piece in line.split(b"\0")[:-1]:
        try:
            content = cobs.decode(piece)
        except cobs.DecodeError:
            continue
        short = 3 <= len(content) <= LONGEST_CONTENT_BYTES and 0xFF not in code_bytes(piece)
        if short and binascii.crc_hqx(content, 0xFFFF) == 0:
            found.append(content[:-2])
    return found


def code_bytes(piece: bytes) -> list[int]:
    """The bytes of an encoded frame that stand for zeros."""
    found, place = [], 0
    while place < len(piece):
        found.append(piece[place])
        place += piece[place]
    return found


def bodies_of(line: bytes) -> list[bytes]:
    decoded = decode(line)
    placed = [
        (start, bytes(body))
        for group in decoded.groups
        for start, body in zip(group.starts.tolist(), group.bodies.T, strict=True)
    ]
    return [body for _, body in sorted(placed)]


@UNHURRIED
@given(BODIES)
def test_what_is_framed_comes_back(bodies):
    decoded = decode(b"".join(map(frame, bodies)))
    assert bodies_of(b"".join(map(frame, bodies))) == bodies
    assert (decoded.good_count, decoded.bad_count, decoded.rest_bytes) == (len(bodies), 0, 0)


@UNHURRIED
@given(BODIES, st.data())
def test_any_damage_is_decoded_as_a_library_does(bodies, data):
    line = bytearray(b"".join(map(frame, bodies)))
    for _ in range(data.draw(st.integers(0, 5))):
        if line:
            place = data.draw(st.integers(0, len(line) - 1))
            line[place : place + data.draw(st.integers(0, 3))] = data.draw(JUNK)
    assert bodies_of(bytes(line)) == one_by_one(bytes(line))


@UNHURRIED
@given(st.binary(max_size=2000))
def test_any_bytes_at_all(line):
    decoded = decode(line)
    assert bodies_of(line) == one_by_one(line)
    pieces = line.split(b"\0")
    assert decoded.rest_bytes == len(pieces[-1])
    assert decoded.good_count + decoded.bad_count == sum(1 for piece in pieces[:-1] if piece)


def test_cut_at_every_byte_all_whole_frames_are_there():
    logger = MadeUpLogger()
    line = logger.describe() + logger.samples(readings(12, logger.channels)) + logger.status()
    whole = bodies_of(line)
    for end in range(len(line) + 1):
        count = line[:end].count(b"\0")
        assert bodies_of(line[:end]) == whole[:count]


def test_joined_in_the_middle_it_finds_the_next_frame():
    logger = MadeUpLogger()
    line = logger.samples(readings(20, logger.channels))
    whole = bodies_of(line)
    for begin in range(1, len(line)):
        ended = line[: begin - 1].count(b"\0") + 1  # the frame we stand in is gone
        seen = bodies_of(line[begin:])
        assert seen[max(len(seen) - len(whole) + ended, 0) :] == whole[ended:]


def test_a_body_too_long_or_empty_is_refused():
    for length in (0, LONGEST_CONTENT_BYTES - 1):
        with pytest.raises(ValueError, match="1 to 251 bytes"):
            frame(bytes(length))
    assert bodies_of(cobs.encode(bytes(300)) + b"\0") == []


def mutated(line: bytes, random: np.random.Generator, share: float) -> bytes:
    """Replace a share of the bytes by others, zeros included."""
    damaged = np.frombuffer(line, np.uint8).copy()
    hit = random.random(len(damaged)) < share
    damaged[hit] ^= random.integers(1, 256, int(hit.sum()), dtype=np.uint8)
    return damaged.tobytes()


@pytest.mark.parametrize("share", [0.002, 0.02, 0.1])
def test_damaged_frames_pass_no_oftener_than_their_crc_lets_them(share):
    """A 16-bit CRC lets one in 65 536 random errors pass (known of any CRC, no single source)."""
    random = np.random.default_rng(round(222 + 1000 * share))
    logger = MadeUpLogger()
    line = logger.samples(readings(20_000, logger.channels))
    sent = set(bodies_of(line))
    passed = [body for body in bodies_of(mutated(line, random, share)) if body not in sent]
    assert len(passed) <= 4  # of 20 000: 0.3 expected, five or more once in 5000 such runs
