"""Every error ridelog raises on purpose, on one page.

The tree says who is at fault and where. Programmer mistakes stay ``ValueError`` and
``TypeError``. The command line turns a `RidelogError` into its message alone and exit status 2.
"""

from __future__ import annotations

from pathlib import Path


class RidelogError(Exception):
    """The input or the call is at fault; the message says where, what and what to do."""


class FileError(RidelogError):
    """A file could not be used; `path` names it."""

    def __init__(self, path: Path | str, message: str) -> None:
        self.path = Path(path)
        super().__init__(f"{self.path.name or self.path}: {message}")


class CarFileError(FileError):
    """One or more faults in a car file; `faults` holds one line each, key first."""

    def __init__(self, path: Path | str, faults: tuple[str, ...]) -> None:
        self.faults = faults
        name = Path(path).name
        super().__init__(path, f"\n{name}: ".join(faults))


class SetupFileError(CarFileError):
    """One or more faults in the setup file beside a log."""


class LogError(FileError):
    """A log file could not be read as a log."""


class UnknownLayoutError(LogError):
    """No reader recognises the file; the message lists what was tried and why it was not that."""


class BadRowError(LogError):
    """A row breaks the layout; `line` is its number in the file, counted from 1."""

    def __init__(self, path: Path | str, line: int, message: str) -> None:
        self.line = line
        super().__init__(path, f"line {line}: {message}")


class ClockError(LogError):
    """The time column cannot be turned into sample times."""


class CalibrationError(RidelogError):
    """A calibration recording or its points do not determine what is asked."""


class SignalError(RidelogError):
    """The signals cannot support the estimate that was asked for."""


class NotEnoughDataError(SignalError):
    """Too little usable log; `needed` and `found` are in `unit`."""

    def __init__(self, what: str, *, needed: float, found: float, unit: str) -> None:
        self.needed = needed
        self.found = found
        self.unit = unit
        super().__init__(f"{what}: needs {needed:g} {unit}, the log has {found:g} {unit}")


class RecorderError(RidelogError):
    """A recording cannot begin or go on; `place` is the port or file at fault."""

    def __init__(self, place: str, message: str) -> None:
        self.place = place
        super().__init__(f"{place}: {message}")
