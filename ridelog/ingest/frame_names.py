"""Column names for the channels of a serial logger, from its own description."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.ingest.names import CANONICAL, plain_name
from ridelog.wire.messages import ChannelFrame

TIME_COLUMN = "time_s"
_SUFFIXES = {
    "mm": "mm",
    "g": "g",
    "m/s^2": "mps2",
    "m/s2": "mps2",
    "m/s": "mps",
    "km/h": "kph",
    "mph": "mph",
}


def channel_columns(channels: Sequence[ChannelFrame]) -> dict[str, ChannelFrame]:
    """Name the columns of a run's channels.

    Parameters
    ----------
    channels : sequence of ChannelFrame
        All channels of the run.

    Returns
    -------
    dict of str to ChannelFrame
        The contract's name where measure, corner and unit make one, else the logger's own; a
        number behind it where that is taken.
    """
    columns: dict[str, ChannelFrame] = {}
    for channel in channels:
        name = _column_name(channel)
        columns[f"{name} ({channel.index + 1})" if name in columns else name] = channel
    return columns


def _column_name(channel: ChannelFrame) -> str:
    """Name one column."""
    place = f"_{channel.place}" if channel.place else ""
    told = f"{channel.measure}{place}_{_SUFFIXES.get(channel.unit, '')}"
    if told in CANONICAL:
        return told
    own = channel.name or f"{channel.measure}{place}"
    # A name of the contract promises a unit that this channel does not have.
    if plain_name(own) in (*CANONICAL, TIME_COLUMN):
        return f"{own} [{channel.unit}]"
    return own
