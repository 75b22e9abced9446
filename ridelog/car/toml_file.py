"""Open a TOML file and say in one line what is wrong with it, if anything is."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from ridelog.errors import CarFileError

# A car or setup file is a page of text; anything far larger is some other file.
_LARGEST_BYTES = 1_000_000
_PLACE = re.compile(
    r"^(?P<what>.*) \(at (?:line (?P<line>\d+), column \d+|(?P<end>end of document))\)$"
)


def read_toml(path: Path, fault: type[CarFileError]) -> dict[str, object]:
    """Read a TOML file into plain Python values.

    Parameters
    ----------
    path : Path
        The file.
    fault : type of CarFileError
        Which error to raise: that of car files or that of setup files.

    Returns
    -------
    dict
        The file's tables, nothing checked yet.

    Raises
    ------
    CarFileError
        When the file is missing, a folder, unreadable, not UTF-8 text or not TOML.
    """
    text = _text(path, fault)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise fault(path, (_syntax_fault(str(error), text),)) from None
    except RecursionError:
        raise fault(path, ("not TOML: brackets nested too deeply",)) from None


def _text(path: Path, fault: type[CarFileError]) -> str:
    """Read the file's text, or say why there is none."""
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise fault(path, ("larger than 1 MB; this is some other file",))
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        message = f"no such file in {path.parent.resolve()}"
    except IsADirectoryError:
        message = "is a folder; name the file in it"
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        message = f"line {line}: not UTF-8 text; save the file with encoding UTF-8"
    except (OSError, ValueError) as error:
        message = f"cannot be read ({getattr(error, 'strerror', None) or error})"
    raise fault(path, (message,))


def _syntax_fault(message: str, text: str) -> str:
    """Word a TOML syntax error with its line first."""
    found = _PLACE.match(message)
    if found is None:
        return f"not TOML: {message}"
    line = int(found["line"]) if found["line"] else text.count("\n") + 1
    what = found["what"][:1].lower() + found["what"][1:]
    return f'line {line}: not TOML: {what}; a line reads key = value, text stands in "quotes"'
