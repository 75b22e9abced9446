"""How much damper travel and damper speed a drive used."""

from __future__ import annotations

import numpy as np

from ridelog.condition.order_statistics import quantile
from ridelog.errors import NotEnoughDataError
from ridelog.estimate.curves import SpeedCurve, TravelCurve
from ridelog.estimate.result import TravelUse
from ridelog.recording import BoolArray, FloatArray

#: Bins of the travel histogram: some fifty over the travel of a road car.
TRAVEL_BIN_MM = 2.0

#: Bins of the speed histogram, finest where damper valving is set up.
SPEED_BIN_EDGES_M_PER_S = np.concatenate(
    (-np.geomspace(2.0, 0.025, 23), np.geomspace(0.025, 2.0, 23))
)


#: Samples of one corner that shares of time and percentiles are counted from, at least.
ENOUGH_SAMPLES = 100_000


def travel_use(travel: FloatArray, valid: BoolArray | None = None) -> TravelUse:
    """Extremes, outer percentiles and rms of the damper travel used.

    Parameters
    ----------
    travel : FloatArray
        Damper travel [m] from ride height, positive in bump, shape (n,).
    valid : BoolArray, optional
        False where samples are missing, shape (n,).

    Returns
    -------
    TravelUse
        In mm, the rms about static ride height.

    Raises
    ------
    NotEnoughDataError
        If no sample can be used.

    References
    ----------
    Derived here: order statistics and root mean square.
    """
    used = _usable(travel, valid) * 1e3
    sampled = _thinned(used)
    return TravelUse(
        min=float(used.min()),
        max=float(used.max()),
        p01=quantile(sampled, 0.01),
        p99=quantile(sampled, 0.99),
        rms=float(np.sqrt(np.mean(used**2))),
    )


def travel_curve(
    corner: str,
    travel: FloatArray,
    *,
    bump_gap: float | None = None,
    droop_gap: float | None = None,
    valid: BoolArray | None = None,
) -> TravelCurve:
    """Share of time at each damper travel.

    Parameters
    ----------
    corner : str
        Corner.
    travel : FloatArray
        Damper travel [m] from ride height, positive in bump, shape (n,).
    bump_gap, droop_gap : float, optional
        Damper travel to the stops [m], both positive.
    valid : BoolArray, optional
        False where samples are missing, shape (n,).

    Raises
    ------
    NotEnoughDataError
        If no sample can be used.

    References
    ----------
    Derived here: histogram in bins of 2 mm.
    """
    used = _usable(travel, valid) * 1e3
    first = np.floor(used.min() / TRAVEL_BIN_MM)
    last = np.floor(used.max() / TRAVEL_BIN_MM) + 1
    edges = np.arange(first, last + 1) * TRAVEL_BIN_MM
    sampled = _thinned(used)
    counts, _ = np.histogram(sampled, edges)
    return TravelCurve(
        corner=corner,
        bin_edges_mm=edges,
        share=counts / len(sampled),
        bump_gap_mm=None if bump_gap is None else bump_gap * 1e3,
        droop_gap_mm=None if droop_gap is None else droop_gap * 1e3,
    )


def speed_curve(
    corner: str, damper_speed: FloatArray, valid: BoolArray | None = None
) -> SpeedCurve:
    """Share of time at each damper speed.

    Parameters
    ----------
    corner : str
        Corner.
    damper_speed : FloatArray
        Damper speed [m/s], positive in bump, shape (n,).
    valid : BoolArray, optional
        False where samples are missing, shape (n,).

    Raises
    ------
    NotEnoughDataError
        If no sample can be used.

    Notes
    -----
    Bins widen with speed from 0.025 to 2 m/s on both sides; faster movement counts in the
    outermost.

    References
    ----------
    Derived here: histogram.
    """
    used = _thinned(_usable(damper_speed, valid))
    edges = SPEED_BIN_EDGES_M_PER_S
    counts, _ = np.histogram(np.clip(used, edges[0], edges[-1]), edges)
    return SpeedCurve(corner=corner, bin_edges_m_per_s=edges.copy(), share=counts / len(used))


def _thinned(values: FloatArray) -> FloatArray:
    """Every so many-th value of a long log: shares and percentiles need no more than these."""
    return values[:: max(1, len(values) // ENOUGH_SAMPLES)]


def _usable(values: FloatArray, valid: BoolArray | None) -> FloatArray:
    usable = np.isfinite(values) if valid is None else np.isfinite(values) & valid
    if not usable.any():
        raise NotEnoughDataError("travel used", needed=1, found=0, unit="samples")
    return values if usable.all() else values[usable]
