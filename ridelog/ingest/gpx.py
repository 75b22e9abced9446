"""Read the track of a GPX file: time, speed and position of a satellite receiver."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

import numpy as np

from ridelog.errors import LogError
from ridelog.ingest.memory_table import OpenTable, memory_table
from ridelog.ingest.open_log import OpenLog
from ridelog.ingest.track import speed_from_positions
from ridelog.ingest.wall_clock import wall_clock_seconds

_GPX = re.compile(rb"<(?:\w+:)?gpx[\s>]")
# A track is a point a second; this holds a day of driving.
_LARGEST_BYTES = 1 << 26
_Point = tuple[str, float, float, float]


def looks_like_gpx(head: bytes) -> bool:
    """Tell a GPX file by its root element.

    Parameters
    ----------
    head : bytes
        The beginning of the file.
    """
    return head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<") and _GPX.search(head) is not None


def read_gpx(log: OpenLog) -> OpenTable:
    """Read a GPX file's track points.

    Parameters
    ----------
    log : OpenLog
        The open file.

    Returns
    -------
    OpenTable
        Columns ``time`` (ISO 8601), ``speed`` [m/s], ``latitude`` and ``longitude`` [deg].

    Raises
    ------
    LogError
        When it is not well-formed, too large, or has no point with a time.

    Notes
    -----
    Speed is the receiver's own where the points name it, else it follows from the positions.

    References
    ----------
    GPX 1.1 schema documentation (topografix.com/GPX/1/1): trkpt, time. The element speed [m/s] is
    that of GPX 1.0, which writers of 1.1 carry on in their extensions.
    """
    points = list(_points(log))
    if not points:
        raise LogError(log.path, "its track has no point with a time; record again")
    texts = np.array([point[0] for point in points], dtype=object)
    latitude, longitude, speed = (np.array(part) for part in list(zip(*points, strict=True))[1:])
    if np.isnan(speed).all():
        time_s, _ = wall_clock_seconds(log.path, "time", texts)
        speed = speed_from_positions(time_s, latitude, longitude)
    columns = {"time": texts, "speed": speed, "latitude": latitude, "longitude": longitude}
    return memory_table(log.path, columns, {"speed": "m/s"})


def _points(log: OpenLog) -> Iterator[_Point]:
    """Go through the track's points that have a time and a position."""
    if log.size_bytes > _LARGEST_BYTES:
        raise LogError(log.path, f"the track is larger than {_LARGEST_BYTES >> 20} MiB; cut it")
    log.handle.seek(0)
    content = log.handle.read()
    if b"<!" in content and re.search(rb"<!(DOCTYPE|ENTITY)", content):
        raise LogError(log.path, "declares entities, which no track needs; export it again")
    try:
        root = ElementTree.fromstring(content)
    except (ElementTree.ParseError, ValueError, LookupError) as error:
        raise LogError(log.path, f"is no well-formed GPX ({error}); export it again") from None
    for element in root.iter():
        if _local(element) in ("trkpt", "rtept"):
            point = _point(element)
            if point is not None:
                yield point


def _point(element: ElementTree.Element) -> _Point | None:
    """Read one point; None where time or position is missing or no number."""
    inside = {_local(child): (child.text or "").strip() for child in element.iter()}
    if not inside.get("time"):
        return None
    try:
        latitude, longitude = float(element.get("lat", "")), float(element.get("lon", ""))
        speed = float(inside.get("speed") or "nan")
    except ValueError:
        return None
    return inside["time"], latitude, longitude, speed


def _local(element: ElementTree.Element) -> str:
    """Name of an element without its namespace."""
    return str(element.tag).rpartition("}")[2]
