"""Who is at the other end: a logger that speaks in frames, one that prints lines, or noise."""

from __future__ import annotations

import re
from enum import Enum

from ridelog.wire.decode import decode
from ridelog.wire.messages import LOGGER_KINDS, VERSION

# Bytes that no text has; tabs, line ends and UTF-8 are text.
_NO_TEXT = re.compile(rb"[\x00-\x08\x0e-\x1a\x1c-\x1f\x7f]")
_NUMBER = re.compile(rb"\s*[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?\s*")
_DELIMITERS = re.compile(rb"[,;\t]")
_ENOUGH_FRAMES = 2


class Speech(Enum):
    """How a logger speaks."""

    UNKNOWN = "unknown"
    FRAMES = "frames"
    OTHER_VERSION = "frames of another version"
    LINES = "lines"


def recognise(data: bytes) -> Speech:
    """Tell how a logger speaks from what it has sent since the port was opened.

    Parameters
    ----------
    data : bytes
        Everything so far.
    """
    if b"\0" in data:
        kinds = [kind for group in decode(data).groups for kind in group.kinds.tolist()]
        if any(kind in LOGGER_KINDS for kind in kinds):
            return Speech.FRAMES
        others = [kind for kind in kinds if kind >> 4 != VERSION]
        return Speech.OTHER_VERSION if len(others) >= _ENOUGH_FRAMES else Speech.UNKNOWN
    return Speech.LINES if _prints_lines(data) else Speech.UNKNOWN


def is_text(data: bytes) -> bool:
    """Tell whether bytes may be the beginning of some text.

    Parameters
    ----------
    data : bytes
        Any.
    """
    try:
        data.decode()
    except UnicodeDecodeError as error:
        if error.start < len(data) - 3:
            return False
    return _NO_TEXT.search(data) is None


def _prints_lines(data: bytes) -> bool:
    """Tell whether there is a whole line of numbers after the first line end."""
    lines = data.replace(b"\r", b"\n").split(b"\n")[1:-1]
    return is_text(data) and any(_is_row(line) for line in lines)


def _is_row(line: bytes) -> bool:
    """Tell whether a line is two or more numbers with commas, semicolons or tabs between."""
    cells = _DELIMITERS.split(line.strip())
    numbers = sum(_NUMBER.fullmatch(cell) is not None for cell in cells)
    return len(cells) >= 2 and numbers >= 2 and 2 * numbers >= len(cells)
