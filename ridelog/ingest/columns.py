"""Find the channels among a log's columns, by the contract's names or the car file's mapping."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from ridelog.car.channels import QUANTITY_OF_KIND
from ridelog.car.description import ChannelMapping, Logger
from ridelog.errors import LogError, UnknownLayoutError
from ridelog.ingest.sniff import TableFormat
from ridelog.recording import ALL_CHANNELS, channel_kind
from ridelog.units import QuantityError, unit_factor

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
_UNIT_IN_NAME = re.compile(r"[(\[]\s*([^()\[\]]+?)\s*[)\]]\s*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelColumn:
    """Where a channel stands in the table, and how its readings become SI."""

    channel: str
    index: int
    column: str
    unit: str | None
    mapping: ChannelMapping
    mapped: bool = True


def find_channels(
    path: Path, table: TableFormat, logger: Logger
) -> tuple[tuple[ChannelColumn, ...], tuple[str, ...]]:
    """Find the channels that stand in the log itself (not in files beside it).

    Parameters
    ----------
    path : Path
        The log, for messages.
    table : TableFormat
        Its layout.
    logger : Logger
        The car file's mapping; may be empty.

    Returns
    -------
    tuple of ChannelColumn
        One for each channel found.
    tuple of str
        Remarks on columns that were passed over.

    Raises
    ------
    UnknownLayoutError
        When the log has none of the mapped columns and none of the contract's.
    LogError
        When one mapped column is absent, or two columns claim one channel.
    """
    own = {name: item for name, item in logger.channels.items() if item.file is None}
    canonical = _canonical_columns(path, table, own)
    indexes = {name: column_index(path, table, item.column) for name, item in own.items()}
    remarks: list[str] = []
    if own and all(index is None for index in indexes.values()):
        if not canonical:
            name, mapping = next(iter(own.items()))
            key = f"logger.channels.{name}"
            raise UnknownLayoutError(path, absent(key, mapping.column, table))
        remarks.append(
            "none of the car file's mapped columns is in the log; its own names are used"
        )
        own = {}
    found = dict(canonical)
    for name, mapping in own.items():
        index = indexes[name]
        if index is not None:
            found[name], noted = mapped_column(path, table, name, index, mapping)
            remarks.extend(noted)
        elif name not in canonical:
            raise LogError(path, absent(f"logger.channels.{name}", mapping.column, table))
    used = {item.index for item in found.values()}
    remarks.extend(_passed_over(table, used))
    return tuple(found.values()), tuple(remarks)


def column_index(path: Path, table: TableFormat, column: str) -> int | None:
    """Find a column by its header text, or by its number counted from 1.

    Raises
    ------
    LogError
        When several columns have that header.
    """
    wanted = _plain(column)
    same = [i for i, name in enumerate(table.names) if name == column.strip()]
    same = same or [i for i, name in enumerate(table.names) if _plain(name) == wanted]
    if len(same) > 1:
        raise LogError(
            path, f'column "{column}" stands {len(same)} times in the header; name it by its number'
        )
    if same:
        return same[0] if same[0] < table.field_count else None
    if column.isdecimal() and 1 <= int(column) <= table.field_count:
        return int(column) - 1
    return None


def absent(key: str, column: str, table: TableFormat) -> str:
    """Word that a mapped column is not in the log, with the nearest that are."""
    near = get_close_matches(column, table.names, n=3, cutoff=0.4)
    shown = _quoted(near) if near else _quoted(table.names)
    verb = "nearest are" if near else "it has"
    return f'no column "{column}" ({key} in the car file); {verb} {shown}'


def unit_in_name(table: TableFormat, index: int) -> str | None:
    """Read a column's unit off its header, as in ``Z (m/s^2)``, or off the unit row."""
    below = table.units[index] if index < len(table.units) else ""
    if below.strip() not in ("", "-"):
        return below.strip()
    name = table.names[index]
    found = _UNIT_IN_NAME.search(name)
    if found:
        return found[1]
    return _UNIT_OF_SUFFIX.get(_plain(name).rpartition("_")[2])


def suggestion(path: Path, table: TableFormat) -> UnknownLayoutError:
    """Build the error for a log with none of our channels: what it has, and what to write."""
    number = next((i for i in range(table.field_count) if i not in table.text_columns), 0)
    number = min(number + 1, len(table.names) - 1)
    unit = unit_in_name(table, number) or "g"
    return UnknownLayoutError(
        path,
        f"no known channel among its columns ({_quoted(table.names)}); name them in the car file,"
        f' such as [logger.channels] body_fl = {{ column = "{table.names[number]}",'
        f' unit = "{unit}" }}',
    )


def _canonical_columns(
    path: Path, table: TableFormat, mapped: Mapping[str, ChannelMapping]
) -> dict[str, ChannelColumn]:
    """Find the contract's column names in the header."""
    found: dict[str, ChannelColumn] = {}
    for index, name in enumerate(table.names):
        key = _plain(name)
        if key not in CANONICAL or index >= table.field_count:
            continue
        channel, unit = CANONICAL[key]
        if channel in found and channel not in mapped:
            raise LogError(
                path,
                f'columns "{found[channel].column}" and "{name}" are both {channel}; remove one,'
                " or name the one to use under [logger.channels] in the car file",
            )
        mapping = ChannelMapping(column=name, unit=unit)
        found[channel] = ChannelColumn(
            channel=channel, index=index, column=name, unit=unit, mapping=mapping, mapped=False
        )
    return found


def mapped_column(
    path: Path, table: TableFormat, channel: str, index: int, mapping: ChannelMapping
) -> tuple[ChannelColumn, tuple[str, ...]]:
    """Settle the unit of a mapped column: the mapping's word, else the header's.

    Parameters
    ----------
    path : Path
        The file, for messages.
    table : TableFormat
        Its layout.
    channel : str
        The channel's name.
    index : int
        The column's index in the table.
    mapping : ChannelMapping
        What the car file says about it.

    Raises
    ------
    LogError
        When neither names a unit, or the unit is of another kind.
    """
    name = table.names[index]
    named = unit_in_name(table, index)
    unit = mapping.unit or named
    remarks: tuple[str, ...] = ()
    if not mapping.points:
        if unit is None:
            raise LogError(
                path, f'column "{name}" names no unit; add unit to logger.channels.{channel}'
            )
        remarks = _unit_remarks(path, channel, name, unit, named)
    column = ChannelColumn(channel=channel, index=index, column=name, unit=unit, mapping=mapping)
    return column, remarks


def _unit_remarks(
    path: Path, channel: str, column: str, unit: str, named: str | None
) -> tuple[str, ...]:
    """Check a column's unit, and remark where the header says another one."""
    kind = QUANTITY_OF_KIND[channel_kind(channel)]
    try:
        factor = unit_factor(unit, kind)
    except QuantityError as error:
        raise LogError(path, f'column "{column}": {error}') from None
    try:
        same = named is None or unit_factor(named, kind) == factor
    except QuantityError:
        same = False
    if same:
        return ()
    return (f'{channel}: the header says "{named}", the car file "{unit}"; the car file counts',)


def _passed_over(table: TableFormat, used: set[int]) -> list[str]:
    """Remark on unused columns whose names come close to a channel's."""
    remarks = []
    for index, name in enumerate(table.names):
        if index in used or not _plain(name).startswith(_FIRST_WORDS):
            continue
        near = get_close_matches(_plain(name), CANONICAL, n=1, cutoff=0.8)
        if near:
            remarks.append(f'column "{name}" is not used; did you mean {near[0]}?')
    return remarks


def _plain(name: str) -> str:
    """Level capitals and blanks in a header cell."""
    return " ".join(name.split()).lower()


def _quoted(names: Sequence[str]) -> str:
    """List column names, not more than a line can hold."""
    shown = ", ".join(f'"{name}"' for name in names[:16])
    return shown + (f" and {len(names) - 16} more" if len(names) > 16 else "")
