"""Turn the car file's logger section into channel mappings, with faults that name their key."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar

from ridelog.car.description import ChannelMapping, Logger
from ridelog.car.faults import nearest
from ridelog.recording import ALL_CHANNELS, channel_kind
from ridelog.units import QuantityError, check_unit, parse_quantity, parse_reading, unit_factor

if TYPE_CHECKING:
    from ridelog.car.schema import ChannelSection, LoggerSection, TimeSection

T = TypeVar("T")
Points = tuple[tuple[float, float], ...]
Range = tuple[float | None, float | None]

QUANTITY_OF_KIND = {"travel": "length", "acceleration": "acceleration", "speed": "speed"}
"""Which kind of quantity a channel's values are, by `channel_kind`."""
SAMPLE_UNITS = ("samples", "sample")
WALL_CLOCK_UNITS = ("ISO 8601", "ISO8601", "iso 8601", "iso8601", "iso")


def logger_from(section: LoggerSection) -> tuple[Logger, tuple[str, ...]]:
    """Turn the logger section into SI.

    Parameters
    ----------
    section : LoggerSection
        The section as pydantic checked it.

    Returns
    -------
    Logger
        The mappings; those with a fault are left out.
    tuple of str
        One line per fault.
    """
    faults: list[str] = []
    channels = {}
    for name, channel in section.channels.items():
        key = f"logger.channels.{name}"
        if name not in ALL_CHANNELS:
            faults.append(f"{key}: unknown channel; {nearest(name, ALL_CHANNELS)}")
            continue
        mapping, found = _mapping(key, QUANTITY_OF_KIND[channel_kind(name)], channel)
        faults.extend(found)
        if not found:
            channels[name] = mapping
    column, unit = _time_column(section.time)
    faults.extend(_time_faults("logger.time", unit, section.sample_rate))
    return Logger(
        channels=channels, time_column=column, time_unit=unit, sample_rate_hz=section.sample_rate
    ), tuple(faults)


def _mapping(key: str, kind: str, section: ChannelSection) -> tuple[ChannelMapping, list[str]]:
    """Turn one channel's section into SI; the mapping counts only where there is no fault."""
    faults: list[str] = []

    def attempt(name: str, make: Callable[[], T], otherwise: T) -> T:
        try:
            return make()
        except QuantityError as error:
            faults.append(f"{key}.{name}: {error}")
            return otherwise

    attempt("unit", lambda: _check_column_unit(section, kind), None)
    no_points: Points = ()
    points = attempt("points", lambda: _points(section, kind), no_points)
    no_range: Range = (None, None)
    lowest, highest = attempt("valid_range", lambda: _range(section, kind), no_range)
    time_column, time_unit = _time_column(section.time)
    faults.extend(_time_faults(f"{key}.time", time_unit, None))
    if section.points is not None and (section.scale is not None or section.offset is not None):
        faults.append(f"{key}.points: points and scale or offset say the same twice; keep one")
    if section.cross_axis and section.points is not None:
        faults.append(f"{key}.cross_axis: goes with scale and offset, not with points")
    if section.cross_axis and section.file is not None:
        faults.append(f"{key}.cross_axis: needs columns of the log itself, not of another file")
    return ChannelMapping(
        column=str(section.column),
        unit=section.unit,
        sign=section.sign,
        scale=1.0 if section.scale is None else section.scale,
        offset=section.offset or 0.0,
        points=points,
        file=section.file,
        delay_s=section.delay or 0.0,
        valid_min=lowest,
        valid_max=highest,
        valid_from_s=section.valid_from,
        time_column=time_column,
        time_unit=time_unit,
        cross_axis=tuple((section.cross_axis or {}).items()),
    ), faults


def _check_column_unit(section: ChannelSection, kind: str) -> None:
    """With points the column may be in any unit (V, counts), else in the channel's own kind."""
    if section.unit is None:
        return
    if section.points is None:
        unit_factor(section.unit, kind)
    else:
        check_unit(section.unit)


def _points(section: ChannelSection, kind: str) -> Points:
    """Read the calibration points: reading in the column's unit, physical value in SI."""
    if section.points is None:
        return ()
    if len(section.points) < 2 or any(len(pair) != 2 for pair in section.points):
        raise QuantityError(
            'needs two or more pairs of reading and value, such as [["0.52 V", "-48 mm"],'
            ' ["4.41 V", "61 mm"]]'
        )
    pairs = sorted(
        (parse_reading(reading, section.unit), parse_quantity(value, kind))
        for reading, value in section.points
    )
    steps = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(pairs)]
    if any(reading <= 0 for reading, _ in steps):
        raise QuantityError("two points have the same reading; remove one")
    if not (all(value > 0 for _, value in steps) or all(value < 0 for _, value in steps)):
        raise QuantityError(
            "the values rise and fall again with rising reading; a sensor goes one way, check them"
        )
    return tuple(pairs)


def _range(section: ChannelSection, kind: str) -> Range:
    """Read the range outside of which a reading is no measurement."""
    if section.valid_range is None:
        return None, None
    limits = [parse_quantity(text, kind) for text in section.valid_range]
    if len(limits) != 2 or limits[0] >= limits[1]:
        raise QuantityError('needs [lowest, highest], such as ["0 m/s", "100 m/s"]')
    return limits[0], limits[1]


def _time_column(value: str | int | TimeSection | None) -> tuple[str | None, str | None]:
    """Column and unit of a time column, however it was written."""
    if value is None:
        return None, None
    if isinstance(value, (str, int)):
        return str(value), None
    return str(value.column), value.unit


def _time_faults(key: str, unit: str | None, sample_rate_hz: float | None) -> list[str]:
    """Check the unit of a time column."""
    if unit in SAMPLE_UNITS and sample_rate_hz is None:
        return [f'{key}: a column in samples needs sample_rate in [logger], such as "500 Hz"']
    if unit is None or unit in (*SAMPLE_UNITS, *WALL_CLOCK_UNITS):
        return []
    try:
        unit_factor(unit, "time")
    except QuantityError as error:
        return [f'{key}.unit: {error}, or as "samples" or "ISO 8601"']
    return []
