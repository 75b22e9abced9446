"""Read measurement files of the ASAM MDF standard, version 4, by an open library."""

from __future__ import annotations

import gc
import logging
import struct
import sys
import traceback
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from ridelog.errors import LogError
from ridelog.ingest.at_instants import at_instants
from ridelog.ingest.memory_table import OpenTable, memory_table
from ridelog.ingest.needs_library import needs_library
from ridelog.ingest.open_log import LARGEST_UNPACKED_BYTES
from ridelog.recording import FloatArray

MDF_MARKS = (b"MDF     ", b"UnFinMF ")
"""First eight bytes of a finished and of an unfinished file."""
_TIME_COLUMN = "time"
# The library takes a file's own sizes and addresses on trust; damaged ones end in any of these.
_LIBRARY_TRIPS_OVER: tuple[type[Exception], ...] = (
    *(OSError, EOFError, ValueError, TypeError, LookupError, ArithmeticError, AttributeError),
    *(MemoryError, BufferError, RuntimeError, struct.error, zlib.error),
)


def read_mdf(path: Path) -> OpenTable:
    """Read the numeric channels of a measurement file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    OpenTable
        A column ``time`` [s] and one column for each channel, in the file's units.

    Raises
    ------
    LogError
        When the library is missing, or the file is damaged or holds no numeric channel.

    Notes
    -----
    The channels of one group share a clock. The group with most samples gives the table its rows;
    channels of slower groups are joined to its instants by straight lines, not carried on past
    their ends nor over holes. A name that occurs again gets its group's number added.

    References
    ----------
    ASAM MDF (Measurement Data Format), version 4: identification block, channel groups.
    """
    try:
        from asammdf import MDF
        from asammdf.blocks.utils import MdfException
    except ImportError as missing:
        raise needs_library(path, "an MDF file", "mdf", missing) from None
    faults: tuple[type[Exception], ...] = (MdfException, *_LIBRARY_TRIPS_OVER)
    try:
        with _unheard_clean_up(), MDF(path) as file:
            _refuse_too_large(path, file)
            groups = [list(_signals(file, number)) for number in range(len(file.groups))]
    except faults as error:
        reason = " ".join(str(error).split())[:120] or type(error).__name__
        raise LogError(path, f"the MDF file is damaged ({reason}); export it again") from None
    filled = [group for group in groups if group]
    if not filled:
        raise LogError(path, "holds no channel of numbers; export the log again")
    return _joined(path, groups, max(filled, key=lambda group: len(group[0].timestamps)))


@contextmanager
def _unheard_clean_up() -> Iterator[None]:
    """Let the library drop a damaged file in silence: its clean-up fails, aloud, half made."""
    log = logging.getLogger("asammdf")
    before, was_silent = sys.unraisablehook, log.disabled
    sys.unraisablehook, log.disabled = lambda _: None, True
    try:
        yield
    except BaseException as error:
        traceback.clear_frames(error.__traceback__)
        gc.collect()
        raise
    finally:
        sys.unraisablehook, log.disabled = before, was_silent


def _refuse_too_large(path: Path, file: Any) -> None:
    """Refuse what would swell beyond the largest log, before it is unpacked."""
    cells = sum(group.channel_group.cycles_nr * len(group.channels) for group in file.groups)
    if 8 * cells > LARGEST_UNPACKED_BYTES:
        limit = LARGEST_UNPACKED_BYTES >> 20
        raise LogError(path, f"unpacks to more than {limit} MiB; cut the log into shorter drives")


def _signals(file: Any, number: int) -> Iterator[Any]:
    """Read a group's channels of plain numbers, apart from its clock."""
    clock = file.masters_db.get(number)
    for index in range(len(file.groups[number].channels)):
        if index == clock:
            continue
        signal = file.get(group=number, index=index)
        if signal.samples.ndim == 1 and signal.samples.dtype.kind in "biuf" and len(signal):
            yield signal


def _joined(path: Path, groups: list[list[Any]], longest: list[Any]) -> OpenTable:
    """Put all groups on the clock of the longest."""
    time_s = np.asarray(longest[0].timestamps, dtype=np.float64)
    columns: dict[str, FloatArray] = {_TIME_COLUMN: time_s}
    units = {_TIME_COLUMN: "s"}
    for number, group in enumerate(groups):
        for signal in group:
            name = signal.name if signal.name not in columns else f"{signal.name} {number + 1}"
            values = np.asarray(signal.samples, dtype=np.float64)
            if group is not longest:
                values = at_instants(time_s, np.asarray(signal.timestamps), values, -np.inf)
            columns[name] = values
            units[name] = signal.unit or ""
    return memory_table(path, columns, units)
