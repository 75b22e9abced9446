"""What the readings of an unknown column say: gravity at rest, range, rate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.recording import STANDARD_GRAVITY_M_PER_S2, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ContentSettings:
    """When readings look like something.

    `gravity_share`: a median this close to one gravity is gravity: a sensor of 2 % gain error and
    90 mg offset, tilted by 20 degrees, stays inside; half the readings must lie within
    `spread_share` of it. `slow_share`: fewer filled cells than this
    mean that the channel is logged at a lower rate than the rows.
    """

    gravity_share: float = 0.15
    spread_share: float = 0.6
    slow_share: float = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """One column's readings in brief; `gravity_unit` is None where no gravity shows."""

    median: float
    low: float
    high: float
    filled_share: float
    moves: bool
    gravity_unit: str | None
    upside_down: bool
    slow: bool

    @property
    def words(self) -> str:
        """The range, to be shown."""
        return f"{self.low:.4g} to {self.high:.4g}, median {self.median:.4g}"


def content_of(readings: FloatArray, settings: ContentSettings | None = None) -> Content:
    """Sum up a column's readings.

    Parameters
    ----------
    readings : ndarray
        As they stand in the file, in its unknown unit, shape (n,); NaN where empty.
    settings : ContentSettings, optional
        Limits.
    """
    settings = settings or ContentSettings()
    known = readings[np.isfinite(readings)]
    if known.size == 0:
        nothing = float("nan")
        return Content(
            median=nothing,
            low=nothing,
            high=nothing,
            filled_share=0.0,
            moves=False,
            gravity_unit=None,
            upside_down=False,
            slow=False,
        )
    median = float(np.median(known))
    share = known.size / readings.size
    return Content(
        median=median,
        low=float(known.min()),
        high=float(known.max()),
        filled_share=share,
        moves=bool(np.ptp(known) > 0),
        gravity_unit=_gravity_unit(known, abs(median), settings),
        upside_down=median < 0,
        slow=share < settings.slow_share,
    )


def _gravity_unit(known: FloatArray, rest: float, settings: ContentSettings) -> str | None:
    """Name the unit in which a resting reading is one gravity."""
    if np.median(np.abs(np.abs(known) - rest)) > settings.spread_share * rest:
        return None
    for unit, one_g in (("g", 1.0), ("m/s^2", STANDARD_GRAVITY_M_PER_S2), ("mg", 1000.0)):
        if abs(rest / one_g - 1) < settings.gravity_share:
            return unit
    return None
