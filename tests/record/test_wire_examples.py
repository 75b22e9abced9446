"""The codec against published vectors, independent libraries, and the document's own examples."""

from __future__ import annotations

import binascii
import re
import struct
from pathlib import Path

import numpy as np
import pytest
from cobs import cobs

from ridelog.wire import messages, pack
from ridelog.wire.decode import _crc16, decode
from ridelog.wire.framing import crc16, frame, without_zeros
from ridelog.wire.messages import ChannelFrame, Head, LoggerFrame, MarkFrame, StatusFrame
from ridelog.wire.readings import raw_readings, sample_heads
from ridelog.wire.unpack import unpack

PAGE = Path(__file__).parents[2] / "firmware_notes" / "wire_format.md"
ROW = re.compile(
    r"^\| (?P<what>.+?) \| `(?P<body>[0-9A-F ]+)` \| `(?P<crc>.+?)` \| `(?P<line>.+?)` \|$"
)


def counting(first: int, last: int) -> bytes:
    return bytes(range(first, last + 1))


# Public READMEs of COBS libraries and encyclopedia examples, each run again with the package cobs;
# the paper is Cheshire and Baker, IEEE/ACM Transactions on Networking 7 (1999).
COBS_VECTORS = [
    ("", "01"),
    ("00", "01 01"),
    ("00 00", "01 01 01"),
    ("00 11 00", "01 02 11 01"),
    ("11 22 00 33", "03 11 22 02 33"),
    ("11 22 33 44", "05 11 22 33 44"),
    ("11 00 00 00", "02 11 01 01 01"),
    ("11 00 22 00", "02 11 02 22 01"),
    (counting(1, 254).hex(), "FF" + counting(1, 254).hex()),
    (counting(0, 254).hex(), "01 FF" + counting(1, 254).hex()),
    (counting(1, 255).hex(), "FF" + counting(1, 254).hex() + "02 FF"),
    (counting(2, 255).hex() + "00", "FF" + counting(2, 255).hex() + "01 01"),
    (counting(3, 255).hex() + "00 01", "FE" + counting(3, 255).hex() + "02 01"),
]


@pytest.mark.parametrize(("data", "encoded"), COBS_VECTORS)
def test_published_cobs_vectors(data, encoded):
    assert without_zeros(bytes.fromhex(data)) == bytes.fromhex(encoded)
    assert cobs.encode(bytes.fromhex(data)) == bytes.fromhex(encoded)


def test_published_crc_check_value():
    """The catalogue's check value of CRC-16/CCITT-FALSE (also IBM-3740), over ASCII 123456789."""
    assert crc16(b"123456789") == 0x29B1
    assert crc16(b"") == 0xFFFF
    column = np.frombuffer(b"123456789", np.uint8)[:, None]
    assert _crc16(column)[0] == 0x29B1
    assert _crc16(np.frombuffer(b"123456789\x29\xb1", np.uint8)[:, None])[0] == 0


def bit_by_bit(data: bytes) -> int:
    """The CRC as its definition says: shift one bit at a time, take the polynomial off."""
    register = 0xFFFF
    for byte in data:
        for bit in range(7, -1, -1):
            carry = (register >> 15) ^ (byte >> bit & 1)
            register = (register << 1 & 0xFFFF) ^ (0x1021 * carry)
    return register


def test_crc_agrees_with_its_definition_and_a_library():
    random = np.random.default_rng(221)
    for length in (1, 2, 3, 17, 64, 251):
        data = random.integers(0, 256, (length, 50), dtype=np.uint8)
        expected = [bit_by_bit(bytes(column)) for column in data.T]
        assert _crc16(data).tolist() == expected
        assert [binascii.crc_hqx(bytes(column), 0xFFFF) for column in data.T] == expected


def test_published_whole_frame():
    body = bytes.fromhex("01 00 00 02 FF 00")
    assert frame(body) == bytes.fromhex("02 01 01 03 02 FF 03 26 2F 00")
    (group,) = decode(frame(body)).groups
    assert bytes(group.bodies[:, 0]) == body


EXAMPLES = [match for line in PAGE.read_text("utf-8").splitlines() if (match := ROW.match(line))]


@pytest.mark.parametrize("row", EXAMPLES, ids=lambda row: row["what"][:30])
def test_examples_of_the_document_are_frames(row):
    body = bytes.fromhex(row["body"])
    assert frame(body) == bytes.fromhex(row["line"])
    assert cobs.encode(body + bytes.fromhex(row["crc"])) + b"\0" == bytes.fromhex(row["line"])
    (group,) = decode(bytes.fromhex(row["line"])).groups
    assert bytes(group.bodies[:, 0]) == body


HEAD = Head(run=42, sequence=0, ticks=0)
LOGGER = LoggerFrame(
    head=Head(run=42, sequence=0, ticks=2500),
    channel_count=4,
    ticks_per_s=250_000,
    rate_hz=500.0,
    device=0x1A2B3,
    firmware=(1, 0),
    name="bench logger",
)
CHANNEL = ChannelFrame(
    head=Head(run=42, sequence=0, ticks=2510),
    index=0,
    measure="travel",
    place="fl",
    format="<u2",
    scale=0.125,
    offset=-64.0,
    zero_scale=10,
    full_scale=1013,
    instant_s=104e-6,
    unit="mm",
    name="A0",
)
STATUS = StatusFrame(
    head=Head(run=42, sequence=1000, ticks=250_123),
    due=66_536,
    missed=12,
    dropped=3,
    supply_v=4.98,
    sampling=True,
    refused=0,
)
MARK = MarkFrame(head=Head(run=42, sequence=514, ticks=128_300), by_command=True, number=7)
SAID = [
    ("command: describe", pack.pack_command(messages.DESCRIBE), None),
    ("command: start", pack.pack_command(messages.START), None),
    ("command: stop", pack.pack_command(messages.STOP), None),
    ("command: set rate", pack.pack_command(messages.SET_RATE, 500_000), None),
    ("command: mark", pack.pack_command(messages.SET_MARK, 7), None),
    ("status", pack.pack_status(STATUS), STATUS),
    ("logger", pack.pack_logger(LOGGER), LOGGER),
    ("channel", pack.pack_channel(CHANNEL), CHANNEL),
    ("mark", pack.pack_mark(MARK), MARK),
    (
        "host time",
        pack.pack_host_time(
            time := messages.HostTime(utc_ns=1_790_000_000 * 10**9, steady_ns=5 * 10**9)
        ),
        time,
    ),
    ("this is a recording", pack.RECORDING_BODY, None),
    (
        "host event",
        pack.pack_host_event(mark := messages.HostEvent(code=3, number=7, words="speed bump")),
        mark,
    ),
]


@pytest.mark.parametrize(("what", "body", "message"), SAID, ids=[each[0] for each in SAID])
def test_examples_of_the_document_say_what_it_says(what, body, message):
    (row,) = [row for row in EXAMPLES if row["what"].startswith(what)]
    assert body == bytes.fromhex(row["body"])
    assert unpack(body) == message


def test_the_documents_sample_frame():
    (row,) = [row for row in EXAMPLES if row["what"].startswith("sample")]
    (group,) = decode(bytes.fromhex(row["line"])).groups
    heads = sample_heads(group)
    assert (heads.runs[0], heads.sequences[0], heads.ticks[0]) == (42, 513, 128_250)
    formats = ("<u2", "<u2", "<i2", "<i2")
    channels = [
        ChannelFrame(
            head=HEAD,
            index=index,
            measure="other",
            place="",
            format=kind,
            scale=1.0,
            offset=0.0,
            zero_scale=0,
            full_scale=0,
            instant_s=0.0,
            unit="",
            name="",
        )
        for index, kind in enumerate(formats)
    ]
    assert [int(each[0]) for each in raw_readings(group, channels)] == [512, 1023, -4096, -32768]


def test_every_example_was_looked_at():
    assert len(EXAMPLES) == len(SAID) + 2  # the sample frame and the published vector


def test_rates_of_the_document_follow_from_its_frame_length():
    rows = re.findall(
        r"^\| (\d+) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$", PAGE.read_text("utf-8"), re.M
    )
    assert len(rows) == 5
    for channels, length, *rates in (map(int, row) for row in rows):
        sample = struct.pack("<BBHI", 0x11, 1, 2, 3) + bytes(2 * channels)
        assert len(frame(sample)) == length
        assert rates == [
            int(0.97 * baud / 10 / length) for baud in (115200, 250000, 500000, 1000000)
        ]
