"""Hub readings cut off at the sensor's limit, made up for from where the wheel went.

A sharp bump drives a 16 g hub sensor to its limit for some milliseconds. The missing push is
missing from the hub's speed for as long as the integration remembers, a good second, long after
the bump itself is kept out. Damper travel saw the whole push.
"""

from __future__ import annotations

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.lever import lever_matrix_of_car
from ridelog.estimate.stretches import find_stretches
from ridelog.recording import BoolArray, FloatArray

# Range of the usual hub sensor, 16 g, less its offset: readings above are never trusted.
_RAIL_M_PER_S2 = 145.0
# Travel is looked at for this long before and after a hit.
_AROUND_S = 0.03
# Before and after where no travel sensor tells: long enough for a wheel to come back.
_AROUND_UNSEEN_S = (0.3, 0.5)
# Readings within this share of the range from the limit count as at the limit.
_AT_LIMIT_RATIO = 1e-6


def cut_off(acceleration: FloatArray) -> BoolArray:
    """Samples at a sensor's limit, shape (n,).

    Parameters
    ----------
    acceleration : ndarray
        Readings of one channel [m/s2], shape (n,).

    Notes
    -----
    At the limit are readings above 145 m/s2, and the outermost value where it comes twice in a
    row: sensors resolve far too finely for that by chance.
    """
    at_limit = np.zeros(len(acceleration), dtype=bool)
    if len(acceleration) == 0:
        return at_limit
    top, bottom = acceleration.max(), acceleration.min()
    if max(top, -bottom) > _RAIL_M_PER_S2:
        at_limit = np.abs(acceleration) > _RAIL_M_PER_S2
    near = _AT_LIMIT_RATIO * (top - bottom)
    for outermost in (acceleration >= top - near, acceleration <= bottom + near):
        if np.any(outermost[1:] & outermost[:-1]):
            at_limit |= outermost
    return at_limit


def mend_cut_off_hubs(
    hub: FloatArray, body: FloatArray, travel: FloatArray | None, car: Car, sample_rate_hz: float
) -> FloatArray:
    """Hub acceleration with the missing push of cut-off hits put back, shape (4, n).

    Parameters
    ----------
    hub, body : ndarray
        Acceleration of hubs and of the body above them [m/s2], shape (4, n).
    travel : ndarray or None
        Damper travel [m], shape (4, n); None where no sensor tells it.
    car : Car
        Motion ratios and spacings.
    sample_rate_hz : float
        Sample rate [Hz].

    Notes
    -----
    Around each hit, wheel travel by the dampers is fitted by twice integrated hub minus body
    acceleration, a straight line (what went before) and the travel that half a sine of extra push
    in the cut-off samples would make; its height is the one unknown of interest and never points
    away from the limit. Without travel the wheel is taken to be near ride height over a longer
    while, which leaves some 10 mm of error after a hit. Hits that follow close upon each other are
    fitted together. The shape within a hit stays unknown, so those samples are not to be used;
    speed and travel after it are right.

    References
    ----------
    Derived here from the kinematics of hub, body and damper. Least squares without negative
    heights: Lawson & Hanson, Solving Least Squares Problems, 1974, ch. 23 (scipy's).
    """
    mended = hub.copy()
    if travel is None:
        wheel_travel, before_s, after_s = np.zeros_like(hub), *_AROUND_UNSEEN_S
    else:
        wheel_travel = np.asarray(np.linalg.solve(lever_matrix_of_car(car), travel), dtype=float)
        before_s, after_s = _AROUND_S, _AROUND_S
    before, after = round(before_s * sample_rate_hz), round(after_s * sample_rate_hz)
    together = round(2 * _AROUND_S * sample_rate_hz)
    for corner in range(4):
        at_limit = cut_off(hub[corner])
        for group in find_stretches(at_limit, bridge_count=together):
            part = slice(max(group.start - before, 0), min(group.stop + after, len(at_limit)))
            hit = np.zeros_like(at_limit)
            hit[group.samples] = at_limit[group.samples]
            pulses = _pulses(hub[corner, part], hit[part])
            relative = mended[corner, part] - body[corner, part]
            heights = _heights(relative, pulses, wheel_travel[corner, part], sample_rate_hz)
            mended[corner, part] += heights @ pulses
    return mended


def _pulses(hub: FloatArray, at_limit: BoolArray) -> FloatArray:
    """Half a sine of 1 m/s2 in each hit, pointing out of the range, shape (hits, n)."""
    rows = []
    for side in (1.0, -1.0):
        for hit in find_stretches(at_limit & (side * hub > 0)):
            row = np.zeros(len(hub))
            count = hit.stop - hit.start
            row[hit.samples] = side * np.sin(np.pi * (np.arange(count) + 0.5) / count)
            rows.append(row)
    return np.array(rows)


def _heights(
    relative: FloatArray, pulses: FloatArray, travel: FloatArray, sample_rate_hz: float
) -> FloatArray:
    """Missing push of each hit [m/s2], shape (hits,)."""
    from scipy.optimize import nnls

    step = 1 / sample_rate_hz
    wanted = travel - np.cumsum(np.cumsum(relative)) * step**2
    made = np.cumsum(np.cumsum(pulses, axis=1), axis=1).T * step**2
    time = np.linspace(-1.0, 1.0, len(travel))
    line, _ = np.linalg.qr(np.stack([np.ones_like(time), time], axis=1))
    made -= line @ (line.T @ made)
    heights, _ = nnls(made, wanted - line @ (line.T @ wanted))
    return np.asarray(heights)
