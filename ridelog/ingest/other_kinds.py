"""Files that are no log, or a log in a kind of file that is not read: named, with a remedy."""

from __future__ import annotations

import re
from pathlib import Path

from ridelog.errors import LogError

_EXPORT = "export the log as CSV text"
_UNPACK = "unpack it, or pack the log with gzip or zip"
# First bytes and what they stand for; each is laid down in the kind's own published format.
_MARKS: tuple[tuple[bytes, str, str], ...] = (
    (b"%PDF-", "a PDF document", _EXPORT),
    (b"\x89PNG\r\n", "a picture (PNG)", _EXPORT),
    (b"\xff\xd8\xff", "a picture (JPEG)", _EXPORT),
    (b"GIF8", "a picture (GIF)", _EXPORT),
    (b"SQLite format 3\0", "an SQLite data base", "export its table as CSV text"),
    (b"\x89HDF\r\n\x1a\n", "an HDF5 file", _EXPORT),
    (b"MATLAB 5.0 MAT-file", "a MAT-file", _EXPORT),
    (b"\x93NUMPY", "a NumPy array", _EXPORT),
    (b"ARROW1", "an Arrow IPC file", "write it as Parquet or CSV"),
    (b"RIFF", "a RIFF file, such as sound or film", _EXPORT),
    (b"\xd0\xcf\x11\xe0", "an office document of the old kind", "save the sheet as CSV"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", _UNPACK),
    (b"\xfd7zXZ\0", "packed with xz", _UNPACK),
    (b"BZh", "packed with bzip2", _UNPACK),
    (b"\x28\xb5\x2f\xfd", "packed with zstd", _UNPACK),
    (b"\x7fELF", "a program", _EXPORT),
    (b"MZ\x90", "a program", _EXPORT),
)
_JSON = re.compile(rb'\s*(\{\s*["}]|\[\s*[\[\{"])')
_MARKUP = re.compile(rb"\s*<(!doctype|html|svg|\?xml|[a-z]+[ >])", re.IGNORECASE)
TRIED = "tried as text table, gzip, zip, Parquet, MDF 4, GPX, NMEA and serial recording"


def refuse_other_kind(path: Path, head: bytes) -> None:
    """Refuse a file that its first bytes tell to be of another kind.

    Parameters
    ----------
    path : Path
        The file.
    head : bytes
        Its beginning, unpacked.

    Raises
    ------
    LogError
        When it is known to be something else.

    References
    ----------
    First bytes as in the formats' own definitions: ISO 32000 (PDF), W3C PNG, ISO/IEC 10918 (JPEG),
    SQLite file format, HDF5 file format, POSIX pax (ustar at 257); from memory.
    """
    for mark, name, remedy in _MARKS:
        if head.startswith(mark):
            raise LogError(path, f"is {name}, not a log; {remedy}")
    if head[257:262] == b"ustar":
        raise LogError(path, "is a tar archive; take the log out of it")
    if _JSON.match(head):
        raise LogError(path, f"is JSON, not a table; {_EXPORT}")
    if _MARKUP.match(head.removeprefix(b"\xef\xbb\xbf")):
        raise LogError(path, f"is a page or XML, and no GPX track; {_EXPORT}")
