"""Word that a kind of file needs a library that is not installed."""

from __future__ import annotations

from pathlib import Path

from ridelog.errors import LogError


def needs_library(path: Path, what: str, extra: str, missing: ImportError) -> LogError:
    """Build the error for a missing optional library: which one, and how to get it.

    Parameters
    ----------
    path : Path
        The file that needs it.
    what : str
        The kind of file.
    extra : str
        The extra of our own package that brings the library.
    missing : ImportError
        What Python said.
    """
    library = (missing.name or extra).partition(".")[0]
    return LogError(
        path, f'{what} needs the library {library}; install it: pip install "ridelog[{extra}]"'
    )
