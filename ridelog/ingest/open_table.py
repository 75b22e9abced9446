"""Open a log as a table of named columns, whatever kind of file it is."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from ridelog.ingest.frame_table import looks_like_frames, read_frames
from ridelog.ingest.gpx import looks_like_gpx, read_gpx
from ridelog.ingest.measurement_file import MDF_MARKS, read_mdf
from ridelog.ingest.memory_table import OpenTable
from ridelog.ingest.nmea import looks_like_nmea, read_nmea
from ridelog.ingest.open_log import OpenLog, open_log
from ridelog.ingest.parquet import PARQUET_MARK, read_parquet
from ridelog.ingest.sniff import sniff
from ridelog.ingest.table import read_columns
from ridelog.ingest.table_chunks import TellShare

_LONGEST_MARK = 8


@contextmanager
def open_table(path: Path, tell: TellShare | None = None) -> Iterator[OpenTable]:
    """Open a log, a track or a measurement file; kinds are told by content, not by name.

    Parameters
    ----------
    path : Path
        A text table or a recording of a serial logger (plain, gzip, zip), Parquet, MDF 4, a GPX
        track or NMEA 0183 sentences.
    tell : callable, optional
        Told the share read so far, 0 to 1, while a text table is read.

    Yields
    ------
    OpenTable
        Its columns' names and units, and how to read them; no longer than the block lasts.

    Raises
    ------
    LogError
        When the file is missing, unreadable, of no known kind, or needs an extra library.
    """
    mark = _first_bytes(path)
    if mark.startswith(PARQUET_MARK):
        yield read_parquet(path)
    elif mark.startswith(MDF_MARKS):
        yield read_mdf(path)
    else:
        log = open_log(path, is_welcome=_is_known_by_mark)
        with log.handle:
            yield read_frames(log) if looks_like_frames(log.head) else _text_table(log, tell)


def _is_known_by_mark(head: bytes) -> bool:
    return looks_like_frames(head) or looks_like_gpx(head)


def _first_bytes(path: Path) -> bytes:
    """Read the mark that binary kinds begin with; what cannot be read, `open_log` will word."""
    try:
        with path.open("rb") as handle:
            return handle.read(_LONGEST_MARK)
    except (OSError, ValueError):
        return b""


def _text_table(log: OpenLog, tell: TellShare | None) -> OpenTable:
    """Tell tracks and sentences from tables."""
    if looks_like_gpx(log.head):
        return read_gpx(log)
    if looks_like_nmea(log.head):
        return read_nmea(log)
    table = sniff(log.path, log.head, whole=log.size_bytes <= len(log.head))
    return OpenTable(path=log.path, format=table, read=partial(read_columns, log, table, tell=tell))
