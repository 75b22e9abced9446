"""Read measurement files of the ASAM MDF standard, version 4, by an open library."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import numpy as np

from ridelog.errors import LogError
from ridelog.ingest import mdf_columns
from ridelog.ingest.memory_table import OpenTable, memory_table
from ridelog.ingest.needs_library import needs_library
from ridelog.ingest.open_log import LARGEST_UNPACKED_BYTES
from ridelog.recording import FloatArray

MDF_MARKS = (b"MDF     ", b"UnFinMF ")
"""First eight bytes of a finished and of an unfinished file."""
_LONGEST_S = 600.0
"""The largest log takes some ten seconds; a damaged one may send the library in circles."""


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
        When the library is missing, or the file is damaged, too large or holds no numeric channel.

    Notes
    -----
    The channels of one group share a clock. The group with most samples gives the table its rows;
    channels of slower groups are joined to its instants by straight lines, not carried on past
    their ends nor over holes. A name that occurs again gets its group's number added.

    References
    ----------
    ASAM MDF (Measurement Data Format), version 4: identification block, channel groups.
    """
    if importlib.util.find_spec("asammdf") is None:
        missing = ImportError("no library", name="asammdf")
        raise needs_library(path, "an MDF file", "mdf", missing)
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "columns.npz"
        _copy_columns(path, copy)
        columns, units = _columns(path, copy)
    if not columns:
        raise LogError(path, "holds no channel of numbers; export the log again")
    return memory_table(path, columns, units)


def _copy_columns(path: Path, copy: Path) -> None:
    """Let another process take the file apart, because a damaged one can bring it down."""
    command = [sys.executable, "-P", "-m", mdf_columns.__name__, str(path.resolve()), str(copy)]
    try:
        done = subprocess.run(
            [*command, str(LARGEST_UNPACKED_BYTES)],
            capture_output=True,
            check=False,
            timeout=_LONGEST_S,
        )
    except subprocess.TimeoutExpired:
        raise LogError(path, "the MDF file cannot be read to its end; export it again") from None
    if done.returncode == mdf_columns.TOO_LARGE:
        limit = LARGEST_UNPACKED_BYTES >> 20
        raise LogError(path, f"unpacks to more than {limit} MiB; cut the log into shorter drives")
    if done.returncode != 0:
        last = done.stderr.decode(errors="replace").strip().rpartition("\n")[2]
        reason = "".join(mark for mark in last if mark.isprintable())[:120]
        reason = reason if done.returncode > 0 and reason else "it brings its reader down"
        raise LogError(path, f"the MDF file is damaged ({reason}); export it again")


def _columns(path: Path, copy: Path) -> tuple[dict[str, FloatArray], dict[str, str]]:
    """Read the copied columns and their units."""
    try:
        with np.load(copy, allow_pickle=False) as stored:
            names = [str(name) for name in stored["names"]]
            units = dict(zip(names, map(str, stored["units"]), strict=True))
            return {name: stored[f"c{i}"] for i, name in enumerate(names)}, units
    except (OSError, ValueError, KeyError, zipfile.BadZipFile) as error:
        raise LogError(path, f"the MDF file is damaged ({error}); export it again") from None
