"""One frame: a body, its CRC, the zero bytes taken out, a zero byte at the end.

Single frames are made with the standard library. Whole files are taken apart in `decode.py`.
"""

from __future__ import annotations

import binascii

LONGEST_CONTENT_BYTES = 253
"""Body and CRC; then the zero bytes are taken out at the cost of one byte, whatever they are."""
CRC_BYTES = 2
_LONGEST_RUN = 254


def crc16(data: bytes) -> int:
    """CRC-16/CCITT-FALSE of some bytes.

    Parameters
    ----------
    data : bytes
        Any number of them.

    References
    ----------
    Polynomial 1021 (ITU-T V.41), start FFFF, not reflected, no final xor; ``123456789`` gives 29B1.
    """
    return binascii.crc_hqx(data, 0xFFFF)


def without_zeros(data: bytes) -> bytes:
    """Take the zero bytes out of some bytes (COBS); the ending zero is not added.

    Parameters
    ----------
    data : bytes
        Any number of them.

    References
    ----------
    S. Cheshire and M. Baker, Consistent Overhead Byte Stuffing, IEEE/ACM Transactions on
    Networking 7 (1999).
    """
    pieces = data.split(b"\0")
    encoded = bytearray()
    for number, piece in enumerate(pieces, start=1):
        blocks = [piece[i : i + _LONGEST_RUN] for i in range(0, len(piece), _LONGEST_RUN)] or [b""]
        if len(blocks[-1]) == _LONGEST_RUN and number < len(pieces):
            blocks.append(b"")  # a full block stands for no zero behind it
        for block in blocks:
            encoded += bytes([len(block) + 1]) + block
    return bytes(encoded)


def frame(body: bytes) -> bytes:
    """Make a frame of a body, ready for the line or a file.

    Parameters
    ----------
    body : bytes
        Kind first, at most 251 bytes.

    Raises
    ------
    ValueError
        When the body is empty or too long.
    """
    if not 1 <= len(body) <= LONGEST_CONTENT_BYTES - CRC_BYTES:
        raise ValueError(f"a body has 1 to {LONGEST_CONTENT_BYTES - CRC_BYTES} bytes")
    return without_zeros(body + crc16(body).to_bytes(CRC_BYTES, "big")) + b"\0"
