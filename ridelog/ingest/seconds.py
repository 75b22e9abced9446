"""Turn the readings of a log's clock into seconds: units, sample counts."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ridelog.car.channels import SAMPLE_UNITS
from ridelog.errors import ClockError
from ridelog.recording import FloatArray
from ridelog.units import QuantityError, unit_factor

CLOCK_REMEDY = 'say in the car file: [logger] time = { column = "...", unit = "ms" }'
# A bare "t" or "time" is taken as seconds only where its steps look like it: a logger that samples
# at 2 Hz to 20 kHz. Milliseconds or microseconds would step by a whole number or more.
_STEP_OF_SECONDS = (5e-5, 0.5)
# Counters of cheap loggers wrap at these widths (8, 16, 32 bit).
_WRAPS = (2.0**8, 2.0**16, 2.0**32)


def seconds(
    path: Path, column: str, unit: str | None, values: FloatArray, rate_hz: float | None
) -> tuple[FloatArray, tuple[str, ...]]:
    """Turn the clock's readings into seconds, as recorded: it may stand still or run backwards.

    Parameters
    ----------
    path : Path
        The log, for messages.
    column : str
        The clock's column, for messages.
    unit : str or None
        Its unit: one of time, or "samples"; None where nobody names it.
    values : ndarray
        Its readings, shape (n,); row numbers where there is no column.
    rate_hz : float or None
        Stated sample rate [Hz], for a clock in samples.

    Returns
    -------
    ndarray
        Time [s], shape (n,).
    tuple of str
        Remarks: wraps of a counter undone, unit taken for granted.

    Raises
    ------
    ClockError
        When the unit is unknown, or samples come without a rate.
    """
    values = np.where(np.isinf(values), np.nan, values)  # 1e999 is no time
    straight, remarks = _without_wraps(values)
    if unit in SAMPLE_UNITS:
        if rate_hz is None:
            raise ClockError(
                path, f'"{column}" counts samples; add sample_rate = "500 Hz" under [logger]'
            )
        return straight / rate_hz, remarks
    if unit is None:
        return straight, (*remarks, _taken_as_seconds(path, column, straight))
    try:
        return straight * unit_factor(unit, "time"), remarks
    except QuantityError as error:
        raise ClockError(path, f'time column "{column}": {error}') from None


def _taken_as_seconds(path: Path, column: str, values: FloatArray) -> str:
    """Accept a clock without unit as seconds where its steps say so."""
    steps = np.diff(values[np.isfinite(values)])
    step = float(np.median(steps)) if steps.size else np.nan
    if not _STEP_OF_SECONDS[0] <= step <= _STEP_OF_SECONDS[1]:
        raise ClockError(
            path, f'time column "{column}" names no unit and steps by {step:g}; {CLOCK_REMEDY}'
        )
    return f'time column "{column}" names no unit; its steps of {step:g} are taken as seconds'


def _without_wraps(values: FloatArray) -> tuple[FloatArray, tuple[str, ...]]:
    """Undo the wraps of a whole-numbered counter: it falls by its width, less a step."""
    steps = np.diff(values)
    falls = np.flatnonzero(steps < 0)
    if falls.size == 0 or not np.all(np.isfinite(values)) or np.any(values != np.round(values)):
        return values, ()
    usual = float(np.median(steps))
    for width in _WRAPS:
        if np.max(values) < width and np.all(np.abs(steps[falls] + width) <= 10 * max(usual, 1)):
            turns = np.concatenate(([0.0], np.cumsum(steps < 0)))
            return values + width * turns, (f"the clock's counter wrapped {falls.size} times",)
    return values, ()
