"""Read NMEA 0183 sentences of a satellite receiver: time, speed, position."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import reduce

import numpy as np

from ridelog.errors import UnknownLayoutError
from ridelog.ingest.memory_table import OpenTable, memory_table
from ridelog.ingest.open_log import OpenLog
from ridelog.ingest.rows import skip_text
from ridelog.ingest.track import speed_from_positions
from ridelog.ingest.wall_clock import wall_clock_seconds

KNOT_M_PER_S = 1852.0 / 3600.0
"""One international nautical mile per hour, exact (NIST SP 811, appendix B.8)."""
_SENTENCE = re.compile(r"\$([^$*]*)\*([0-9A-Fa-f]{2})")
_TIME = re.compile(r"(\d\d)(\d\d)(\d\d(?:\.\d+)?)")
_DATE = re.compile(r"(\d\d)(\d\d)(\d\d)")
_ANGLE = re.compile(r"(\d{1,3})(\d\d(?:\.\d*)?)")
_Fix = tuple[str, float, float, float]


def looks_like_nmea(head: bytes) -> bool:
    """Tell sentences by their first line that is not empty.

    Parameters
    ----------
    head : bytes
        The beginning of the file.
    """
    first = head.lstrip(b"\xef\xbb\xbf \t\r\n\0").splitlines()[:1]
    return bool(first) and re.match(rb"\$(G[A-Z]|BD|QZ|II)[A-Z]{3},", first[0]) is not None


def checksum(text: str) -> int:
    """Exclusive or of all characters between ``$`` and ``*``.

    Parameters
    ----------
    text : str
        What stands between them.

    References
    ----------
    NMEA 0183: checksum field.
    """
    return reduce(lambda sum_so_far, character: sum_so_far ^ ord(character), text, 0)


def read_nmea(log: OpenLog) -> OpenTable:
    """Read the fixes of a file of sentences.

    Parameters
    ----------
    log : OpenLog
        The open file.

    Returns
    -------
    OpenTable
        Columns ``time`` (ISO 8601, or time of day where no sentence has the date), ``speed``
        [m/s], ``latitude`` and ``longitude`` [deg].

    Raises
    ------
    UnknownLayoutError
        When no sentence with a right checksum holds a fix.

    Notes
    -----
    RMC sentences give everything. Where there is none, GGA sentences give time and position, and
    speed follows from these. Sentences with a wrong checksum or cut short are left out and counted;
    sentences without fix or of other types say nothing.
    """
    log.handle.seek(0)
    lines = log.handle.read().decode("latin-1").splitlines()
    wrong: list[int] = []
    minimum: list[_Fix] = []
    position: list[_Fix] = []
    for number, line in enumerate(lines, start=1):
        fields = sentence_fields(line)
        if fields is None:
            if line.strip(" \0\x1a"):
                wrong.append(number)
        elif fields[0][2:] == "RMC":
            minimum.extend(_from_rmc(fields))
        elif fields[0][2:] == "GGA":
            position.extend(_from_gga(fields))
    fixes = minimum or position
    if not fixes:
        raise UnknownLayoutError(log.path, "none of its NMEA sentences holds a fix; record again")
    skipped = (skip_text("wrong checksum, or cut short", wrong),) if wrong else ()
    return _table(log, fixes, skipped, len(wrong))


def sentence_fields(line: str) -> list[str] | None:
    """Split one sentence into its fields; None where it is none or its checksum is wrong.

    Parameters
    ----------
    line : str
        One line of the file.
    """
    found = _SENTENCE.fullmatch(line.strip())
    if found is None or checksum(found[1]) != int(found[2], 16):
        return None
    return found[1].split(",")


def degrees(angle: str, side: str) -> float:
    """Turn degrees and minutes run together (``5321.6802``) and a side into degrees.

    Parameters
    ----------
    angle : str
        Degrees and minutes.
    side : str
        ``N``, ``S``, ``E`` or ``W``.
    """
    found = _ANGLE.fullmatch(angle)
    if found is None or side not in ("N", "S", "E", "W"):
        return float("nan")
    value = int(found[1]) + float(found[2]) / 60
    return -value if side in "SW" else value


def _from_rmc(fields: Sequence[str]) -> list[_Fix]:
    """Read a sentence of the recommended minimum; nothing where it has no fix."""
    if len(fields) < 10 or fields[2] != "A":
        return []
    time, date = _TIME.fullmatch(fields[1]), _DATE.fullmatch(fields[9])
    if time is None or date is None:
        return []
    # Two digits of a year: satellites have sent them since 1980.
    century = 19 if int(date[3]) >= 80 else 20
    stamp = f"{century}{date[3]}-{date[2]}-{date[1]}T{time[1]}:{time[2]}:{time[3]}"
    speed = _number(fields[7]) * KNOT_M_PER_S
    return [(stamp, degrees(fields[3], fields[4]), degrees(fields[5], fields[6]), speed)]


def _from_gga(fields: Sequence[str]) -> list[_Fix]:
    """Read a sentence of fix data; nothing where its quality is 0."""
    time = _TIME.fullmatch(fields[1]) if len(fields) > 6 else None
    if time is None or fields[6] in ("", "0"):
        return []
    place = degrees(fields[2], fields[3]), degrees(fields[4], fields[5])
    return [(f"{time[1]}:{time[2]}:{time[3]}", *place, float("nan"))]


def _number(text: str) -> float:
    """Read a number; NaN where the field is empty or damaged."""
    try:
        return float(text)
    except ValueError:
        return float("nan")


def _table(
    log: OpenLog, fixes: list[_Fix], skipped: tuple[str, ...], skipped_count: int
) -> OpenTable:
    """Put fixes into columns."""
    texts = np.array([fix[0] for fix in fixes], dtype=object)
    latitude, longitude, speed = (np.array(part) for part in list(zip(*fixes, strict=True))[1:])
    if np.isnan(speed).all():
        time_s, _ = wall_clock_seconds(log.path, "time", texts)
        speed = speed_from_positions(time_s, latitude, longitude)
    columns = {"time": texts, "speed": speed, "latitude": latitude, "longitude": longitude}
    return memory_table(log.path, columns, {"speed": "m/s"}, skipped, skipped_count)
