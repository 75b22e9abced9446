"""Names of a log's columns: the contract's own, units inside them, and the nearest to a slip."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path

from ridelog.errors import LogError, UnknownLayoutError
from ridelog.ingest.sniff import TableFormat
from ridelog.recording import ALL_CHANNELS, channel_kind

_UNITS_OF_KIND: Mapping[str, Mapping[str, str]] = {
    "travel": {"mm": "mm"},
    "acceleration": {"mps2": "m/s^2", "g": "g"},
    "speed": {"mps": "m/s", "kph": "km/h", "mph": "mph"},
}
CANONICAL: Mapping[str, tuple[str, str]] = {
    f"{channel}_{suffix}": (channel, unit)
    for channel in ALL_CHANNELS
    for suffix, unit in _UNITS_OF_KIND[channel_kind(channel)].items()
}
"""Channel and unit of each column name of the contract."""

_UNIT_OF_SUFFIX = {
    suffix: unit for units in _UNITS_OF_KIND.values() for suffix, unit in units.items()
}
_FIRST_WORDS = ("travel", "body", "hub", "cabin", "seat", "speed")
# Words a time column's name begins with; "t" alone is a habit of the lab.
_TIME_WORD = re.compile(r"(time|timestamp|t|elapsed|seconds?|millis|micros|uptime|clock)(?![a-z])")
_UNIT_IN_NAME = re.compile(r"[(\[]\s*([^()\[\]]+?)\s*[)\]]\s*$")


def column_index(path: Path, table: TableFormat, column: str) -> int | None:
    """Find a column by its header text, or by its number counted from 1.

    Raises
    ------
    LogError
        When several columns have that header.
    """
    wanted = plain_name(column)
    same = [i for i, name in enumerate(table.names) if name == column.strip()]
    same = same or [i for i, name in enumerate(table.names) if plain_name(name) == wanted]
    if len(same) > 1:
        raise LogError(
            path, f'column "{column}" stands {len(same)} times in the header; name it by its number'
        )
    if same:
        return same[0] if same[0] < table.field_count else None
    if column.isdecimal() and 1 <= int(column) <= table.field_count:
        return int(column) - 1
    return None


def unit_in_name(table: TableFormat, index: int) -> str | None:
    """Read a column's unit off its header, as in ``Z (m/s^2)``, or off the unit row."""
    below = table.units[index] if index < len(table.units) else ""
    if below.strip() not in ("", "-"):
        return below.strip()
    name = table.names[index]
    found = _UNIT_IN_NAME.search(name)
    if found:
        return found[1]
    return _UNIT_OF_SUFFIX.get(plain_name(name).rpartition("_")[2])


def absent(key: str, column: str, table: TableFormat) -> str:
    """Word that a mapped column is not in the log, with the nearest that are."""
    near = get_close_matches(column, table.names, n=3, cutoff=0.4)
    shown = quoted(near) if near else quoted(table.names)
    verb = "nearest are" if near else "it has"
    return f'no column "{column}" ({key} in the car file); {verb} {shown}'


def suggestion(path: Path, table: TableFormat) -> UnknownLayoutError:
    """Build the error for a log with none of our channels: what it has, and what to write."""
    columns = range(min(table.field_count, len(table.names)))
    readings = [i for i in columns if i not in table.text_columns and not is_time_name(table, i)]
    index = readings[0] if readings else columns[-1]
    unit = unit_in_name(table, index) or "g"
    return UnknownLayoutError(
        path,
        f"no known channel among its columns ({quoted(table.names)}); name them in the car file,"
        f' such as [logger.channels] body_fl = {{ column = "{table.names[index]}",'
        f' unit = "{unit}" }}',
    )


def is_time_name(table: TableFormat, index: int) -> bool:
    """Tell whether a column's name begins with a word for time."""
    return _TIME_WORD.match(plain_name(table.names[index])) is not None


def passed_over(table: TableFormat, used: set[int]) -> list[str]:
    """Remark on unused columns whose names come close to a channel's."""
    remarks = []
    for index, name in enumerate(table.names):
        if index in used or not plain_name(name).startswith(_FIRST_WORDS):
            continue
        near = get_close_matches(plain_name(name), CANONICAL, n=1, cutoff=0.8)
        if near:
            remarks.append(f'column "{name}" is not used; did you mean {near[0]}?')
    return remarks


def plain_name(name: str) -> str:
    """Level capitals and blanks in a header cell."""
    return " ".join(name.split()).lower()


def quoted(names: Sequence[str]) -> str:
    """List column names, not more than a line can hold."""
    shown = ", ".join(f'"{name}"' for name in names[:16])
    return shown + (f" and {len(names) - 16} more" if len(names) > 16 else "")
