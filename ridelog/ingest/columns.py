"""Find the channels among a log's columns, by the contract's names or the car file's mapping."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ridelog.car.channels import QUANTITY_OF_KIND
from ridelog.car.description import ChannelMapping, Logger
from ridelog.errors import LogError, UnknownLayoutError
from ridelog.ingest.names import (
    CANONICAL,
    absent,
    column_index,
    passed_over,
    plain_name,
    unit_in_name,
)
from ridelog.ingest.sniff import TableFormat
from ridelog.recording import channel_kind
from ridelog.units import QuantityError, unit_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelColumn:
    """Where a channel stands in the table, and how its readings become SI.

    `cross_axis` holds the indexes of the sensor's other columns, with their factors.
    """

    channel: str
    index: int
    column: str
    unit: str | None
    mapping: ChannelMapping
    mapped: bool = True
    cross_axis: tuple[tuple[int, float], ...] = ()


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
    remarks.extend(passed_over(table, used))
    return tuple(found.values()), tuple(remarks)


def _canonical_columns(
    path: Path, table: TableFormat, mapped: Mapping[str, ChannelMapping]
) -> dict[str, ChannelColumn]:
    """Find the contract's column names in the header."""
    found: dict[str, ChannelColumn] = {}
    for index, name in enumerate(table.names):
        key = plain_name(name)
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
        When neither names a unit, the unit is of another kind, or a cross-axis column is absent.
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
    column = ChannelColumn(
        channel=channel,
        index=index,
        column=name,
        unit=unit,
        mapping=mapping,
        cross_axis=_cross_axis(path, table, channel, mapping),
    )
    return column, remarks


def _cross_axis(
    path: Path, table: TableFormat, channel: str, mapping: ChannelMapping
) -> tuple[tuple[int, float], ...]:
    """Find the other columns of a sensor."""
    found = []
    for column, factor in mapping.cross_axis:
        index = column_index(path, table, column)
        if index is None:
            raise LogError(path, absent(f"logger.channels.{channel}.cross_axis", column, table))
        found.append((index, factor))
    return tuple(found)


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
