"""Guess which column of an unknown log is its clock, and in which unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ridelog.errors import ClockError
from ridelog.ingest.clock import find_time
from ridelog.ingest.memory_table import OpenTable
from ridelog.recording import FloatArray

# Steps that suspension loggers make (10 Hz to 10 kHz), by unit.
_STEPS = (("s", 1e-4, 0.1), ("ms", 0.1, 100.0), ("us", 100.0, 1e5))


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeGuess:
    """The clock; `line` is what to write into the car file, empty where nothing is needed."""

    index: int | None
    column: str
    line: str
    sure: bool
    reason: str


def guess_time(
    opened: OpenTable, own_clock: int | None, numbers: Mapping[int, FloatArray]
) -> TimeGuess:
    """Find a log's clock by its name, else by being the one column that only rises.

    Parameters
    ----------
    opened : OpenTable
        The log.
    own_clock : int or None
        The column that reads as a clock without help.
    numbers : mapping of int to ndarray
        The other columns' readings, each of shape (n,).
    """
    names = opened.format.names
    if own_clock is not None:
        clock = find_time(opened.path, opened.format, None, None, None)
        if clock.unit is not None or own_clock in opened.format.text_columns:
            reason = f"named as a clock, in {clock.unit}" if clock.unit else "dates or times of day"
            return TimeGuess(
                index=own_clock, column=names[own_clock], line="", sure=True, reason=reason
            )
        readings = opened.read([own_clock], []).numbers[own_clock]
        return _by_step(own_clock, names[own_clock], readings, "named as a clock")
    rising = [i for i, values in numbers.items() if _rises(values)]
    if len(rising) == 1:
        return _by_step(rising[0], names[rising[0]], numbers[rising[0]], "it only ever rises")
    return _no_clock(opened, len(rising))


def _no_clock(opened: OpenTable, rising: int) -> TimeGuess:
    """Word that there is no clock, or no single one."""
    try:
        find_time(opened.path, opened.format, None, None, None)
        reason = "no time column"
    except ClockError as error:
        reason = str(error).partition(": ")[2]
    if rising > 1:
        reason = f"{rising} columns only ever rise; {reason}"
    return TimeGuess(
        index=None,
        column="",
        line='sample_rate = "500 Hz"   # write your own rate, or name the time column',
        sure=False,
        reason=reason,
    )


def _by_step(index: int, column: str, readings: FloatArray, reason: str) -> TimeGuess:
    """Tell a clock's unit by its steps."""
    steps = np.diff(readings[np.isfinite(readings)])
    step = float(np.median(steps)) if steps.size else 0.0
    fitting = [unit for unit, low, high in _STEPS if low <= step < high]
    unit = fitting[0] if fitting else "ms"
    counter = step == 1.0  # a counter of samples looks just the same
    name = column.replace("\\", "\\\\").replace('"', '\\"')
    return TimeGuess(
        index=index,
        column=column,
        line=f'time = {{ column = "{name}", unit = "{unit}" }}',
        sure=bool(fitting) and not counter,
        reason=f"{reason}; steps of {step:g}"
        + (": milliseconds or samples?" if counter else f" look like {unit}"),
    )


def _rises(values: FloatArray) -> bool:
    """Tell whether a column rises from every row to the next."""
    return values.size > 2 and bool(np.all(values[1:] > values[:-1]))
