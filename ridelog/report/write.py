"""Writes results to the files the user named, and never over anything but a result of ours."""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path

from ridelog.errors import FileError
from ridelog.report.marks import GENERATOR_MARK

PAGE_HEAD_CHARACTERS = 2000
"""The generator mark stands within this many characters from a page's start."""


def check_result_file(path: Path, kind: str) -> None:
    """Refuse a file name that would overwrite something other than an earlier result of ours.

    Parameters
    ----------
    path : Path
        Where the result shall go.
    kind : str
        ``JSON`` or ``page``.

    Raises
    ------
    FileError
        There is a log, car file, setup or any other file under this name, or no folder to put it.
    """
    if path.is_dir():
        raise FileError(path, f"is a folder; name a file for the {kind}")
    if not path.parent.is_dir():
        raise FileError(path, f"there is no folder {path.parent}; make it first")
    if path.is_file() and path.stat().st_size > 0 and not _is_ours(path, kind):
        raise FileError(
            path,
            f"exists and is not a {kind} made by ridelog; nothing was written, choose another name",
        )


def write_result(path: Path, text: str, kind: str) -> None:
    """Write a result as a whole or not at all.

    Parameters
    ----------
    path : Path
        Where to; an earlier result of the same kind is replaced.
    text : str
        The JSON or page.
    kind : str
        ``JSON`` or ``page``.

    Raises
    ------
    FileError
        As `check_result_file`.
    """
    check_result_file(path, kind)
    if path.exists() and not path.is_file():  # a pipe or a device: there is nothing to keep
        path.write_text(text, encoding="utf-8")
        return
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
        scratch = Path(name)
        scratch.chmod(0o666 & ~_umask())
        scratch.replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _is_ours(path: Path, kind: str) -> bool:
    try:
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return False
    if kind == "page":
        return GENERATOR_MARK in text[:PAGE_HEAD_CHARACTERS]
    try:
        document = json.loads(text)
    except json.JSONDecodeError:
        return False
    return isinstance(document, dict) and ("contract" in document or "$schema" in document)


def _umask() -> int:
    # There is no way to read the mask but to set it.
    mask = os.umask(0)
    os.umask(mask)
    return mask
