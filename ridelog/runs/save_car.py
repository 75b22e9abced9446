"""Change a car file on disk: checked before, kept as it was beside, never half written."""

from __future__ import annotations

import difflib
import os
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from ridelog.car.load import load_car
from ridelog.errors import CarFileError, FileError

_MOST_BACKUPS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class CarChange:
    """A car file's text as it is and as it shall be."""

    path: Path
    before: str
    after: str

    @property
    def difference(self) -> str:
        """The lines that change, - before and + after; empty where none does."""
        lines = difflib.unified_diff(
            self.before.splitlines(),
            self.after.splitlines(),
            fromfile=self.path.name,
            tofile=f"{self.path.name} (new)",
            lineterm="",
            n=1,
        )
        return "\n".join(lines)


def plan_change(path: Path, edit: Callable[[Path, str], str]) -> CarChange:
    """Work out a change of a car file without writing it.

    Parameters
    ----------
    path : Path
        The car file.
    edit : callable
        Makes the new text of the path and the old text.

    Raises
    ------
    CarFileError
        When the file has faults before, or would have them afterwards.
    """
    load_car(path)
    path = path.resolve()  # of a link, the file itself is changed and the link stays
    before = path.read_bytes().decode("utf-8")
    mark = "\ufeff" if before.startswith("\ufeff") else ""  # some editors begin files with one
    after = mark + edit(path, before.removeprefix(mark))
    change = CarChange(path=path, before=before, after=after)
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / path.name
        trial.write_bytes(change.after.encode())
        try:
            load_car(trial)
        except CarFileError as error:
            raise CarFileError(path, error.faults) from None
    return change


def save_change(change: CarChange) -> Path:
    """Write a changed car file, and keep the file as it was beside it.

    Parameters
    ----------
    change : CarChange
        The change.

    Returns
    -------
    Path
        Where the file as it was is kept.

    Raises
    ------
    FileError
        When the file has changed since the change was worked out, or there is no name left for the
        copy.
    """
    path = change.path
    if path.read_bytes().decode("utf-8") != change.before:
        raise FileError(path, "was changed meanwhile; nothing was written, run the command again")
    backup = _backup(path, change.before)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    scratch = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(change.after.encode())
        shutil.copymode(path, scratch)
        scratch.replace(path)
    except BaseException:
        scratch.unlink(missing_ok=True)
        raise
    return backup


def _backup(path: Path, content: str) -> Path:
    """Copy a file to the first free name beside it."""
    for number in range(1, _MOST_BACKUPS):
        backup = path.with_name(f"{path.name}.before-{number}")
        try:
            with backup.open("xb") as file:
                file.write(content.encode())
        except FileExistsError:
            continue
        return backup
    raise FileError(path, f"has {_MOST_BACKUPS - 1} copies beside it already; move some away")
