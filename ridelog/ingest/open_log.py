"""Open a log as plain bytes, whether it is packed or not, and refuse what cannot be a log."""

from __future__ import annotations

import codecs
import gzip
import hashlib
import io
import tempfile
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, BinaryIO, cast

from ridelog.errors import LogError
from ridelog.ingest.other_kinds import TRIED, refuse_other_kind

# Packed files can swell a thousandfold. 1 GiB of text is some five hours of thirteen channels at
# 500 Hz; more is a mistake or a trap.
LARGEST_UNPACKED_BYTES = 1 << 30
_MOST_STRANGE = 0.02  # share of marks that no text holds
_BLOCK_BYTES = 1 << 20
_IN_MEMORY_BYTES = 1 << 26
_HEAD_BYTES = 1 << 18
_UTF16_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
# Bytes that text never holds: control characters other than tab, line ends, page feed, SUB, ESC.
_CONTROL = bytes(set(range(1, 32)) - {9, 10, 11, 12, 13, 26, 27})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpenLog:
    """A log's bytes, unpacked, as UTF-8 or a one-byte encoding; `head` is their beginning."""

    path: Path
    handle: BinaryIO
    head: bytes
    size_bytes: int


def open_log(path: Path, is_welcome: Callable[[bytes], bool] = lambda head: False) -> OpenLog:
    """Open a log file; the caller closes `handle`.

    Parameters
    ----------
    path : Path
        A text file, plain or packed with gzip or zip.
    is_welcome : callable
        Tells by its beginning whether a file that is no text is welcome all the same.

    Returns
    -------
    OpenLog
        Its bytes.

    Raises
    ------
    LogError
        When the file is missing, a folder, unreadable, empty, damaged, too large or binary.
    """
    try:
        handle = path.open("rb")
    except FileNotFoundError:
        raise LogError(path, f"no such file in {path.parent.resolve()}") from None
    except IsADirectoryError:
        raise LogError(path, "is a folder; name the log file in it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise LogError(path, f"cannot be read ({reason})") from None
    try:
        return _opened(path, handle, is_welcome)
    except BaseException:
        handle.close()
        raise


def sha256_of(path: Path) -> str:
    """Hash a file as it lies on disk, so that results can be traced to it.

    Parameters
    ----------
    path : Path
        The file.
    """
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def _opened(path: Path, packed: io.BufferedReader, is_welcome: Callable[[bytes], bool]) -> OpenLog:
    """Unpack and look at the beginning."""
    handle = _unpacked(path, packed)
    try:
        handle = _without_utf16(path, handle)
        return _looked_at(path, handle, is_welcome)
    except BaseException:
        handle.close()
        raise


def _looked_at(path: Path, handle: BinaryIO, is_welcome: Callable[[bytes], bool]) -> OpenLog:
    """Look at the beginning, and refuse what cannot be a log."""
    size_bytes = handle.seek(0, io.SEEK_END)
    handle.seek(0)
    head = handle.read(_HEAD_BYTES)
    if not head.strip(b" \t\r\n\0\xef\xbb\xbf"):
        raise LogError(path, "is empty; record again, or check how it was copied")
    if not is_welcome(head):
        refuse_other_kind(path, head)
        _refuse_binary(path, head)
    return OpenLog(path=path, handle=handle, head=head, size_bytes=size_bytes)


def _unpacked(path: Path, packed: BinaryIO) -> BinaryIO:
    """Unpack gzip and zip by their first bytes, not by their names."""
    magic = packed.read(4)
    packed.seek(0)
    try:
        if magic[:2] == b"\x1f\x8b":
            with gzip.GzipFile(fileobj=packed) as stream:
                return _instead_of(packed, _bounded(path, stream))
        if magic == b"PK\x03\x04":
            with (
                zipfile.ZipFile(packed) as archive,
                archive.open(_only_log(path, archive)) as member,
            ):
                return _instead_of(packed, _bounded(path, member))
    except (EOFError, OSError, zlib.error, zipfile.BadZipFile, UnicodeDecodeError) as error:
        raise LogError(
            path, f"the packed file is damaged ({error}); copy or pack it again"
        ) from None
    except (NotImplementedError, RuntimeError) as error:
        raise LogError(path, f"cannot be unpacked ({error}); unpack it first") from None
    return packed


def _instead_of(packed: BinaryIO, unpacked: BinaryIO) -> BinaryIO:
    packed.close()
    return unpacked


def _only_log(path: Path, archive: zipfile.ZipFile) -> zipfile.ZipInfo:
    """Find the one file in an archive, apart from what operating systems add."""
    members = [
        member
        for member in archive.infolist()
        if not member.filename.endswith("/") and not member.filename.startswith("__MACOSX/")
    ]
    if any(member.filename == "[Content_Types].xml" for member in members):
        raise LogError(path, "is a spreadsheet workbook; save the sheet as CSV")
    if len(members) != 1:
        names = ", ".join(member.filename for member in members[:5]) or "nothing"
        raise LogError(path, f"holds {len(members)} files ({names}); pack one log in one archive")
    return members[0]


def _bounded(path: Path, stream: IO[bytes] | gzip.GzipFile) -> BinaryIO:
    """Unpack a stream, up to the largest size; what is large lies on disk, not in memory."""
    unpacked = _scratch()
    try:
        while block := stream.read(_BLOCK_BYTES):
            unpacked.write(block)
            if unpacked.tell() > LARGEST_UNPACKED_BYTES:
                limit = LARGEST_UNPACKED_BYTES >> 20
                raise LogError(
                    path, f"unpacks to more than {limit} MiB; cut the log into shorter drives"
                )
    except BaseException:
        unpacked.close()
        raise
    unpacked.seek(0)
    return unpacked


def _without_utf16(path: Path, handle: BinaryIO) -> BinaryIO:
    """Turn UTF-16 text into UTF-8; leave everything else as it is."""
    beginning = handle.read(512)
    handle.seek(0)
    encoding = "utf-16" if beginning.startswith(_UTF16_MARKS) else _unmarked_utf16(beginning)
    if encoding is None:
        return handle
    text = io.TextIOWrapper(handle, encoding=encoding, errors="replace", newline="")
    plain = _scratch()
    while block := text.read(_BLOCK_BYTES):
        if plain.tell() == 0 and _strange_share(block[:_HEAD_BYTES]) > _MOST_STRANGE:
            plain.close()
            raise _not_text(path)
        plain.write(block.encode())
    text.detach()
    handle.close()
    plain.seek(0)
    return plain


def _scratch() -> BinaryIO:
    """A file of our own that is gone once it is closed; in memory while it is small."""
    return cast(BinaryIO, tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY_BYTES))


def _unmarked_utf16(beginning: bytes) -> str | None:
    """Recognise UTF-16 without a mark: every other byte of plain text is zero."""
    even, odd = beginning[::2], beginning[1::2]
    if len(odd) >= 8 and odd.count(0) > 0.9 * len(odd) and even.count(0) == 0:
        return "utf-16-le"
    if len(odd) >= 8 and even.count(0) > 0.9 * len(even) and odd.count(0) == 0:
        return "utf-16-be"
    return None


def _refuse_binary(path: Path, head: bytes) -> None:
    """Refuse files that are not text. Zero bytes alone are a torn card's, left to the row check."""
    strange = len(head) - len(head.translate(None, _CONTROL))
    if strange > _MOST_STRANGE * len(head):
        raise _not_text(path)


def _strange_share(text: str) -> float:
    """Share of marks that are in no text: damaged, unassigned or control marks."""
    strange = sum(mark == "\ufffd" or not (mark.isprintable() or mark.isspace()) for mark in text)
    return strange / len(text)


def _not_text(path: Path) -> LogError:
    return LogError(path, f"is not a text file ({TRIED}); export the log as CSV text")
