"""Copy an MDF file's channels into a plain array file; run as a program of its own.

The library that reads MDF trusts the sizes and addresses in a file. A damaged one can bring it down
together with the program that called it, so it is called here, where nobody else is hurt.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from ridelog.ingest.at_instants import at_instants
from ridelog.recording import FloatArray

TOO_LARGE = 4
"""Exit status where the channels would not fit."""
TIME_COLUMN = "time"


def main(source: str, target: str, largest_bytes: str) -> None:
    """Copy all channels of numbers, put on the clock of the longest group.

    Parameters
    ----------
    source : str
        The MDF file.
    target : str
        The array file to write: ``names``, ``units`` and the columns ``c0``, ``c1`` ...
    largest_bytes : str
        No more than this is unpacked.
    """
    from asammdf import MDF

    with MDF(source) as file:
        cells = sum(group.channel_group.cycles_nr * len(group.channels) for group in file.groups)
        if 8 * cells > int(largest_bytes):
            raise SystemExit(TOO_LARGE)
        groups = [list(_signals(file, number)) for number in range(len(file.groups))]
    columns, units = _joined(groups)
    arrays: dict[str, Any] = {f"c{i}": values for i, values in enumerate(columns.values())}
    with Path(target).open("wb") as out:
        np.savez(
            out,
            names=np.array(list(columns), dtype=np.str_),
            units=np.array([units[name] for name in columns], dtype=np.str_),
            **arrays,
        )


def _signals(file: Any, number: int) -> Iterator[Any]:
    """Read a group's channels of plain numbers, apart from its clock."""
    clock = file.masters_db.get(number)
    for index in range(len(file.groups[number].channels)):
        if index == clock:
            continue
        signal = file.get(group=number, index=index)
        if signal.samples.ndim == 1 and signal.samples.dtype.kind in "biuf" and len(signal):
            yield signal


def _joined(groups: list[list[Any]]) -> tuple[dict[str, FloatArray], dict[str, str]]:
    """Put all groups on the clock of the longest; nothing where no group holds numbers."""
    filled = [group for group in groups if group]
    if not filled:
        return {}, {}
    longest = max(filled, key=lambda group: len(group[0].timestamps))
    time_s = np.asarray(longest[0].timestamps, dtype=np.float64)
    columns: dict[str, FloatArray] = {TIME_COLUMN: time_s}
    units = {TIME_COLUMN: "s"}
    for number, group in enumerate(groups):
        for signal in group:
            name = signal.name if signal.name not in columns else f"{signal.name} {number + 1}"
            values = np.asarray(signal.samples, dtype=np.float64)
            if group is not longest:
                values = at_instants(time_s, np.asarray(signal.timestamps), values, -np.inf)
            columns[name] = values
            units[name] = signal.unit or ""
    return columns, units


if __name__ == "__main__":
    main(*sys.argv[1:])
