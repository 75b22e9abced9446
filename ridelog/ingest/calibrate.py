"""Turn a column's readings into SI: unit, sign, scale and offset, or calibration points."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridelog.car.channels import QUANTITY_OF_KIND
from ridelog.car.description import ChannelMapping
from ridelog.ingest.columns import ChannelColumn
from ridelog.recording import FloatArray, channel_kind
from ridelog.units import unit_factor


def to_si(
    found: ChannelColumn, readings: FloatArray, others: Sequence[FloatArray] = ()
) -> FloatArray:
    """Turn one channel's readings into SI.

    Parameters
    ----------
    found : ChannelColumn
        The channel, its unit and mapping.
    readings : ndarray
        What stood in the column, shape (n,).
    others : sequence of ndarray
        What stood in the cross-axis columns, each of shape (n,).

    Returns
    -------
    ndarray
        Travel [m], acceleration [m/s2] or speed [m/s], shape (n,); NaN where there is no
        measurement.

    Notes
    -----
    Between calibration points the curve is straight; outside them the end pieces go on, because a
    reading past the last point is still a reading. Readings outside the valid range become NaN.
    """
    mapping = found.mapping
    if mapping.points:
        values = mapping.sign * _along_points(mapping, readings)
    else:
        factor = float(mapping.sign)
        if found.unit is not None:
            factor *= unit_factor(found.unit, QUANTITY_OF_KIND[channel_kind(found.channel)])
        values = readings * (mapping.scale * factor)
        if mapping.offset:
            values += mapping.offset * factor
        for other, (_, share) in zip(others, found.cross_axis, strict=True):
            values += other * (share * factor)
    outside = _outside(mapping, values)
    if outside.any():
        values[outside] = np.nan
    return values


def _along_points(mapping: ChannelMapping, readings: FloatArray) -> FloatArray:
    """Follow the calibration points, straight on past the ends."""
    at = np.array([reading for reading, _ in mapping.points])
    value = np.array([physical for _, physical in mapping.points])
    slope = np.diff(value) / np.diff(at)
    piece = np.clip(np.searchsorted(at, readings) - 1, 0, len(slope) - 1)
    along: FloatArray = value[piece] + slope[piece] * (readings - at[piece])
    return along


def _outside(
    mapping: ChannelMapping, values: FloatArray
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Mark what is no measurement: infinite, or outside the valid range."""
    outside = np.isinf(values)
    if mapping.valid_min is not None:
        outside |= values < mapping.valid_min
    if mapping.valid_max is not None:
        outside |= values > mapping.valid_max
    return outside
