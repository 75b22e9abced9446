"""A calibration matrix in the car file: other columns of the sensor are added."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.car.description import ChannelMapping, Logger
from ridelog.errors import LogError

LOG = "time_s,ax,ay,az\n" + "".join(
    f"{i / 100:.2f},{0.643},{-0.0552},{0.9204}\n" for i in range(30)
)


def mapping(**others: float) -> ChannelMapping:
    return ChannelMapping(
        column="az", unit="g", scale=0.990008, offset=-0.108402, cross_axis=tuple(others.items())
    )


def test_the_worked_example_through_a_log(read):
    """The sensor of the six-position example sees (0.6, 0, 0.8) g."""
    channels = {"body_fl": mapping(ax=-0.003835, ay=0.006069), "cabin": mapping()}
    raw = read(LOG, Logger(channels=channels))
    np.testing.assert_allclose(raw.channels["body_fl"], 0.8 * 9.80665, atol=2e-5)
    alone = 0.990008 * 0.9204 - 0.108402
    np.testing.assert_allclose(raw.channels["cabin"], alone * 9.80665, atol=1e-9)


def test_a_missing_column_is_named(read):
    with pytest.raises(LogError, match=r'no column "bx" \(logger.channels.body_fl.cross_axis'):
        read(LOG, Logger(channels={"body_fl": mapping(bx=0.1)}))
