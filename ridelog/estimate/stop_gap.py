"""Where a stop begins, from the knee it makes in the force that spring and damper leave over."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.errors import SignalError
from ridelog.estimate.contacts import Stop
from ridelog.estimate.result import Estimate
from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class StopGapSettings:
    """Settings of `estimate_gap`.

    bin_m: fine enough for a knee, wide enough for some samples. grid_m: step of the gaps tried.
    search_from: the knee is sought in the outer part of the travel used. samples_per_bin,
    fewest_bins: fewer are no median, no curve. shape_error: no rubber follows the assumed shapes
    better. never_below: a stop in use for more than the rest of the time would be a spring.
    correlated_s: residuals of a force balance hold together over about this time. most_passes: each
    pass has an offset of its own, so that many samples in a bin are no more than a few readings.
    least_gain: drop of the misfit that proves a knee; 3 parameters give 16 by chance once in a
    thousand logs, doubled for the gaps tried. least_half_width_m: a rubber stop has no sharp touch
    point; on simulated cars the knee was off by this much in one case of twenty.
    travel_gain_tolerance: one standard deviation, a sensor calibrated with a caliper.
    """

    bin_m: float = 1e-3
    grid_m: float = 0.25e-3
    search_from: float = 0.3
    samples_per_bin: int = 4
    fewest_bins: int = 8
    never_below: float = 0.9
    shape_error: float = 0.1
    correlated_s: float = 0.01
    most_passes: float = 3.0
    least_gain: float = 32.0
    least_half_width_m: float = 7e-3
    travel_gain_tolerance: float = 0.004


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Bins:
    """Median residual force [N] and its standard error [N] against travel into the stop [m]."""

    travel_m: FloatArray
    force_n: FloatArray
    error_n: FloatArray


def estimate_gap(
    travel: FloatArray,
    residual_force: FloatArray,
    sample_rate_hz: float,
    *,
    stop: Stop,
    valid: BoolArray | None = None,
    settings: StopGapSettings | None = None,
) -> Estimate:
    """Gap between ride height and the touch point of a stop, found from the drive itself.

    Parameters
    ----------
    travel : FloatArray
        Damper travel [m] from ride height, positive in bump, shape (n,).
    residual_force : FloatArray
        Force at the damper that spring, damper and friction do not explain [N], positive in bump,
        shape (n,). Spring and damper must have been fitted away from the stops.
    sample_rate_hz : float
        Sample rate [Hz].
    stop : ``bump`` or ``droop``
        Which stop.
    valid : BoolArray, optional
        False where samples are missing or not to be used, shape (n,).
    settings : StopGapSettings, optional
        Settings.

    Returns
    -------
    Estimate
        Gap [mm], positive for both stops.

    Raises
    ------
    SignalError
        If no knee shows: the stop was not reached, or too rarely to tell.

    Notes
    -----
    Medians of the residual in bins of travel are fitted by a straight line plus a force that begins
    at the gap and rises linearly, with the square or cube of the depth, never falling. The
    gap with the least misfit wins; the interval holds the gaps whose misfit is not worse by more
    than chance. Damping in the stop and outliers from other corners are left to the median. Where
    both corners of an axle have the same gap, chain their arrays for a narrower interval.

    References
    ----------
    Derived here. Interval from the profile of the misfit: W. H. Press et al., Numerical Recipes,
    3rd ed. (2007), section 15.6.5.
    """
    s = settings or StopGapSettings()
    sign = 1.0 if stop == "bump" else -1.0
    usable = np.isfinite(travel) & np.isfinite(residual_force)
    if valid is not None:
        usable &= valid
    bins = _binned(sign * travel[usable], sign * residual_force[usable], sample_rate_hz, s)
    if bins is None:
        raise SignalError(f"{stop} stop: too little travel was used to see where it begins")
    often = float(np.quantile(sign * travel[usable], s.never_below))
    gaps = np.arange(max(bins.travel_m[2], often), bins.travel_m[-2], s.grid_m)
    if not len(gaps):
        raise SignalError(f"{stop} stop: too little travel was used to see where it begins")
    misfits = _misfits(bins, gaps)
    scale = max(1.0, float(misfits.min()) / (len(bins.travel_m) - 5))
    without_stop = _least_squares(bins, _straight(bins)[None])[0][0]
    if without_stop - misfits.min() < s.least_gain * scale:
        raise SignalError(
            f"{stop} stop: no knee in the force up to {bins.travel_m[-1] * 1e3:.0f} mm, so the "
            "stop was not reached, or too rarely to tell; measure the gap on the car"
        )
    return _gap_estimate(gaps, misfits, scale, s)


def _binned(
    travel: FloatArray, force: FloatArray, sample_rate_hz: float, s: StopGapSettings
) -> _Bins | None:
    """Medians over bins of the outer travel; None where too few bins are filled."""
    if len(travel) == 0 or travel.max() <= 0:
        return None
    outer = travel > s.search_from * travel.max()
    order = np.argsort(travel[outer])
    x, f = travel[outer][order], force[outer][order]
    rows = [
        _bin_row(x[start:end], f[start:end], s.correlated_s * sample_rate_hz, s.most_passes)
        for start, end in _bin_limits(x, s)
    ]
    if len(rows) < s.fewest_bins:
        return None
    table = np.array(rows)
    scatter = np.maximum(table[:, 2], np.median(table[:, 2])) / np.sqrt(table[:, 3])
    return _Bins(
        travel_m=table[:, 0],
        force_n=table[:, 1],
        error_n=np.hypot(scatter, s.shape_error * np.abs(table[:, 1])),
    )


def _bin_limits(travel: FloatArray, s: StopGapSettings) -> list[tuple[int, int]]:
    """Index ranges of bins, each `bin_m` wide or wider until it holds enough samples."""
    limits, start = [], 0
    while start < len(travel):
        by_width = int(np.searchsorted(travel, travel[start] + s.bin_m))
        end = max(by_width, start + s.samples_per_bin)
        if end > len(travel):
            break
        limits.append((start, end))
        start = end
    return limits


def _bin_row(
    travel: FloatArray, force: FloatArray, correlated_count: float, most_passes: float
) -> tuple[float, float, float, float]:
    """Median travel, median force, its scatter for one sample, independent passes."""
    middle = float(np.median(force))
    spread = 1.2533 * 1.4826 * float(np.median(np.abs(force - middle)))
    passes = min(max(len(force) / correlated_count, 1.0), most_passes)
    return float(np.median(travel)), middle, spread, passes


def _misfits(bins: _Bins, gaps: FloatArray) -> FloatArray:
    """Sum of squared standardized residuals of the best admissible stop force, for each gap."""
    depth = np.maximum(bins.travel_m - gaps[:, None], 0.0)
    depth = depth / depth.max(axis=1, keepdims=True)
    straight = np.broadcast_to(_straight(bins), (len(gaps), len(bins.travel_m), 2))
    found = []
    for powers in ((1,), (2,), (3,), (1, 2), (1, 3)):
        rising = np.stack([depth**power for power in powers], axis=-1)
        misfit, stiffness = _least_squares(bins, np.concatenate((straight, rising), axis=-1))
        found.append(np.where(np.all(stiffness[:, 2:] >= 0, axis=1), misfit, np.inf))
    return np.asarray(np.min(found, axis=0), dtype=np.float64)


def _straight(bins: _Bins) -> FloatArray:
    return np.stack([np.ones_like(bins.travel_m), bins.travel_m / bins.travel_m.max()], axis=-1)


def _least_squares(bins: _Bins, columns: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Misfit, shape (gaps,), and coefficients for columns of shape (gaps, bins, columns)."""
    scaled = columns / bins.error_n[:, None]
    target = bins.force_n / bins.error_n
    coefficients = np.linalg.pinv(scaled) @ target
    fitted = np.matmul(scaled, coefficients[:, :, None])[:, :, 0]
    return np.sum((target - fitted) ** 2, axis=1), coefficients


def _gap_estimate(
    gaps: FloatArray, misfits: FloatArray, scale: float, s: StopGapSettings
) -> Estimate:
    value = float(gaps[np.argmin(misfits)])
    inside = gaps[misfits <= misfits.min() + 3.84 * scale]
    fixed = float(np.hypot(s.least_half_width_m, 1.96 * s.travel_gain_tolerance * value))
    below = float(np.hypot(value - inside.min(), fixed))
    above = float(np.hypot(inside.max() - value, fixed))
    return Estimate(
        value=value * 1e3,
        low=(value - below) * 1e3,
        high=(value + above) * 1e3,
        random_half_width=float(np.ptp(inside)) / 2 * 1e3,
        systematic_half_width=fixed * 1e3,
    )
