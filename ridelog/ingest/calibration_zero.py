"""Where a log's travel sensors stand at ride height, from a recording of the standing car."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ridelog.car.description import ChannelMapping, Logger
from ridelog.car.measured import Measured, around
from ridelog.errors import CalibrationError
from ridelog.ingest.read import read_log
from ridelog.ingest.rest_reading import rest_reading
from ridelog.recording import TRAVEL_CHANNELS

MOST_MOTION_M = 0.001
"""A standing car moves less than a millimetre; more is someone leaning on it."""
NORMAL_97_5 = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroReading:
    """Travel that a sensor shows at ride height [m], to be taken off; `mapping` reads it now."""

    channel: str
    travel_m: Measured
    mapping: ChannelMapping
    warnings: tuple[str, ...]


def zero_readings(path: Path, logger: Logger) -> tuple[ZeroReading, ...]:
    """Read every travel sensor of a log of the standing car.

    Parameters
    ----------
    path : Path
        The log.
    logger : Logger
        The car file's logger section.

    Returns
    -------
    tuple of ZeroReading
        One for each travel channel in the log itself, `fl` first.

    Raises
    ------
    LogError
        When the log cannot be read.
    CalibrationError
        When it has no travel channel.
    """
    raw = read_log(path, logger)
    found = []
    for channel in TRAVEL_CHANNELS:
        if channel not in raw.channels:
            continue
        rest = rest_reading(path.name, channel, raw.channels[channel])
        warnings: tuple[str, ...] = ()
        if rest.spread > MOST_MOTION_M or abs(rest.drift) > MOST_MOTION_M:
            worst = max(rest.spread, abs(rest.drift))
            warnings = (f"{path.name}: {channel} moves by {1000 * worst:.1f} mm: not at rest",)
        mapping = logger.channels.get(channel) or ChannelMapping(
            column=raw.columns[channel], unit=raw.units[channel]
        )
        travel = around(rest.mean, NORMAL_97_5 * rest.mean_error)
        found.append(
            ZeroReading(channel=channel, travel_m=travel, mapping=mapping, warnings=warnings)
        )
    if not found:
        raise CalibrationError(f"{path.name}: no travel channel in it; there is nothing to zero")
    return tuple(found)
