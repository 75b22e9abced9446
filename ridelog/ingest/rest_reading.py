"""What a sensor reads at rest, from a short recording, and whether it was at rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ridelog.errors import CalibrationError, LogError
from ridelog.ingest.names import column_index, quoted
from ridelog.ingest.open_table import open_table
from ridelog.recording import FloatArray

FEWEST_READINGS = 20
_BLOCKS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class RestReading:
    """Mean of a column over a recording at rest, in the column's own unit.

    `mean_error` is the mean's standard error, `spread` the readings' standard deviation and `drift`
    the difference between the means of the second half and the first.
    """

    file: str
    column: str
    mean: float
    mean_error: float
    spread: float
    drift: float


def read_rest(path: Path, columns: Sequence[str]) -> tuple[RestReading, ...]:
    """Read columns of a recording made at rest.

    Parameters
    ----------
    path : Path
        The recording; its clock is not needed.
    columns : sequence of str
        Header texts, or column numbers counted from 1.

    Returns
    -------
    tuple of RestReading
        One for each column.

    Raises
    ------
    LogError
        When the file cannot be read, or has no such column.
    CalibrationError
        When a column has too few readings.
    """
    with open_table(path) as opened:
        indexes = []
        for column in columns:
            index = column_index(path, opened.format, column)
            if index is None:
                names = quoted(opened.format.names)
                raise LogError(path, f'no column "{column}"; it has {names}')
            indexes.append(index)
        numbers = opened.read(sorted(set(indexes)), []).numbers
    return tuple(
        rest_reading(path.name, column, numbers[index])
        for column, index in zip(columns, indexes, strict=True)
    )


def rest_reading(file: str, column: str, readings: FloatArray) -> RestReading:
    """Sum up readings at rest.

    Parameters
    ----------
    file, column : str
        Where they come from, for messages.
    readings : ndarray
        In the column's own unit, shape (n,); NaN where there is none.

    Raises
    ------
    CalibrationError
        When there are too few.

    Notes
    -----
    The error of the mean is judged by the scatter of the means of ten blocks, because neighbouring
    readings of a filtered sensor are alike.
    """
    known = readings[np.isfinite(readings)]
    if known.size < FEWEST_READINGS:
        raise CalibrationError(
            f'{file}: column "{column}" has {known.size} readings; record a few seconds'
        )
    means = np.array([block.mean() for block in np.array_split(known, _BLOCKS)])
    first, second = np.array_split(known, 2)
    return RestReading(
        file=file,
        column=column,
        mean=float(known.mean()),
        mean_error=float(means.std(ddof=1) / np.sqrt(_BLOCKS)),
        spread=float(known.std()),
        drift=float(second.mean() - first.mean()),
    )
