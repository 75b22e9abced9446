"""Rows of a text table in chunks of parsed columns, so that no more than needed is ever held."""

from __future__ import annotations

import io
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence, Set
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING, Any, cast

import numpy as np
import numpy.typing as npt

from ridelog.ingest.cells import WHITESPACE
from ridelog.ingest.sniff import TableFormat
from ridelog.recording import FloatArray

if TYPE_CHECKING:
    from pandas.io.parsers import TextFileReader

AnyArray = npt.NDArray[Any]
TellShare = Callable[[float], None]
"""Told the share of a file read so far, 0 to 1."""

# Cells parsed at a time: few enough to stay in the processor's cache. Rows: few beside a long
# table, enough to be as fast as in one go.
_CHUNK_CELLS = 1 << 18
_CHUNK_ROWS, _FEWEST_ROWS = 1 << 15, 1 << 12
# Later rows may be shorter than the first, and pandas reads ahead of the rows that it returns.
_SPARE_ROOM = 1.5
# What stands for no reading: what pandas knows, and more.
_MISSING = (
    *("", "#N/A", "#N/A N/A", "#NA", "<NA>", "N/A", "n/a", "NA", "Na", "na", "NULL", "Null"),
    *("null", "NaN", "nan", "None", "none", "NONE"),
)
# Words that begin as numbers do: where pandas is to know them, it looks most numbers up.
_MISSING_LIKE_NUMBERS = (*("-", "--", "-nan", "-NaN", "-1.#IND", "-1.#QNAN", "1.#IND", "1.#QNAN"),)
_UTF_8 = ("utf-8", "utf-8-sig")
# So many unused columns cost less to parse than counting delimiters does.
_CHEAP_UNUSED = 2


class NotPlainError(ValueError):
    """The rows are not all alike; look at the lines one by one."""


def is_rare_word(error: ValueError) -> bool:
    """Tell whether parsing failed at a word for no reading that only `rare_words` lets pass.

    Parameters
    ----------
    error : ValueError
        What pandas raised.
    """
    return str(error).endswith(tuple(f": {word!r}" for word in _MISSING_LIKE_NUMBERS))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chunk:
    """Some rows' columns by index; `share_read` is how much of the file lies behind."""

    numbers: dict[int, FloatArray]
    texts: dict[int, npt.NDArray[np.object_]]
    row_count: int
    share_read: float


class Part(io.RawIOBase):
    """The beginning of an open file, up to a place in it, without a copy."""

    def __init__(self, *, handle: IO[bytes], end: int) -> None:
        self.handle, self.end = handle, end

    def readable(self) -> bool:
        """It is."""
        return True

    def seekable(self) -> bool:
        """It is."""
        return True

    def tell(self) -> int:
        """Where the file stands."""
        return self.handle.tell()

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Go to a place; the end is the part's."""
        if whence == io.SEEK_END:
            offset, whence = self.end + offset, io.SEEK_SET
        return self.handle.seek(offset, whence)

    def readinto(self, buffer: Any) -> int:
        """Read up to the end of the part."""
        data = self.handle.read(max(0, min(len(buffer), self.end - self.handle.tell())))
        buffer[: len(data)] = data
        return len(data)


def reads_all(used: Set[int], table: TableFormat) -> bool:
    """Tell whether to parse all columns: few are unused, and pandas then refuses long rows.

    Parameters
    ----------
    used : set of int
        Columns that are needed.
    table : TableFormat
        The layout.
    """
    return table.field_count - len(used) <= _CHEAP_UNUSED


def parsed_chunks(
    handle: IO[bytes],
    table: TableFormat,
    numeric: Iterable[int],
    text: Sequence[int],
    tell: TellShare | None = None,
    *,
    rare_words: bool = True,
) -> Iterator[Chunk]:
    """Parse from where the handle stands to its end.

    Parameters
    ----------
    handle : binary file
        The table's rows.
    table : TableFormat
        Their layout.
    numeric, text : sequence of int
        Columns to parse as numbers and as text.
    tell : callable, optional
        Told how far it is.
    rare_words : bool
        Whether words like ``-nan`` are known too; without them numbers are parsed faster. Among
        text they always are.

    Yields
    ------
    Chunk
        The next rows.

    Raises
    ------
    NotPlainError
        When the first row is too short; pandas' own errors, ValueErrors too, pass through.
    """
    begin = handle.tell()
    size_bytes = max(1, handle.seek(0, io.SEEK_END) - begin)
    handle.seek(begin)
    numeric = sorted(set(numeric))
    words = [*_MISSING, *_MISSING_LIKE_NUMBERS] if rare_words or text else list(_MISSING)
    with _reader(handle, table, set(numeric), text, words) as reader:
        for frame in reader:
            if not {*numeric, *text} <= set(frame.columns):
                raise NotPlainError
            share = min((handle.tell() - begin) / size_bytes, 1.0)
            if tell is not None:
                tell(share)
            yield Chunk(
                numbers={i: frame[i].to_numpy() for i in numeric},
                texts={i: frame[i].to_numpy() for i in text},
                row_count=len(frame),
                share_read=share,
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class _AsItIs:
    """A file that pandas does not take for a binary one, and so neither decodes nor encodes anew.

    Its parser works on UTF-8, and passes over a mark at the beginning.
    """

    handle: IO[bytes]

    def read(self, count: int = -1) -> bytes:
        """Read the next bytes."""
        return self.handle.read(count)

    def __iter__(self) -> Iterator[bytes]:
        """Tell pandas that this is a file."""
        return iter(self.handle)


def _reader(
    handle: IO[bytes],
    table: TableFormat,
    numeric: Set[int],
    text: Sequence[int],
    missing: list[str],
) -> TextFileReader:
    """Set pandas up to read only what is needed."""
    import pandas as pd

    used = {*numeric, *text}
    file = cast(IO[bytes], _AsItIs(handle=handle)) if table.encoding in _UTF_8 else handle
    kinds: dict[Hashable, type] = dict.fromkeys(numeric, np.float64) | dict.fromkeys(text, object)
    return pd.read_csv(
        file,
        sep=r"\s+" if table.delimiter == WHITESPACE else table.delimiter,
        header=None,
        usecols=None if reads_all(used, table) else sorted(used),
        dtype=kinds,
        decimal=table.decimal,
        keep_default_na=False,
        na_values=missing,
        skipinitialspace=table.blanks_after_delimiter,
        encoding=table.encoding,
        encoding_errors="replace",
        low_memory=False,
        chunksize=min(_CHUNK_ROWS, max(_FEWEST_ROWS, _CHUNK_CELLS // table.field_count)),
    )


@dataclass(slots=True, kw_only=True)
class Gathered:
    """Columns put together from chunks; `row_count` are filled."""

    numeric: Sequence[int]
    text: Sequence[int]
    row_count: int = 0
    _held: dict[int, AnyArray] | None = None

    def add(self, chunk: Chunk) -> None:
        """Put a chunk behind the others."""
        held = {} if self._held is None else self._held
        for index in (*self.numeric, *self.text):
            piece = chunk.numbers[index] if index in chunk.numbers else chunk.texts[index]
            held[index] = _appended(held.get(index), piece, self.row_count, chunk.share_read)
        self._held = held
        self.row_count += chunk.row_count

    def numbers(self) -> dict[int, FloatArray]:
        """The columns of numbers."""
        held = self._held or {}
        return {i: held[i][: self.row_count].astype(np.float64, copy=False) for i in self.numeric}

    def texts(self) -> dict[int, npt.NDArray[np.object_]]:
        """The columns of text."""
        held = self._held or {}
        return {i: held[i][: self.row_count].astype(object, copy=False) for i in self.text}


def _appended(
    column: AnyArray | None, piece: AnyArray, row_count: int, share_read: float
) -> AnyArray:
    """Add a chunk to a column; most logs have one chunk, and then it is the column.

    Room for all rows is made once, by the share of the file read so far: memory that nothing is
    written to costs nothing, growing piece by piece costs half the table again.
    """
    if column is None:
        return piece
    needed = row_count + len(piece)
    if needed > len(column):
        room = np.empty(int(_SPARE_ROOM * needed / share_read), piece.dtype)
        room[:row_count] = column[:row_count]
        column = room
    column[row_count:needed] = piece
    return column
