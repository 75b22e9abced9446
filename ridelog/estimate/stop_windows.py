"""Forces owed to the stops, cut to the moments of far travel and turned into normal equations.

Whatever a stop's law, its force is a sum of hinges: nothing up to a knot, then rising straight.
All gaps and shapes that are tried later are such sums, so the log is gone through only once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ridelog.estimate.owed_force import STOPS, OwedForce
from ridelog.estimate.stretches import find_stretches
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowSettings:
    """Settings of `stop_equations`.

    from_quantile: more seldom than the rest of the time is a stop touched, or it would be a spring.
    looked_at_quantile: windows open where travel is beyond; least_travel_m: never nearer than this
    to ride height. least_range_m: less travel beyond shows no knee. step_m, most_knots: distance of
    knots. smooth_s: a Gaussian this wide takes out engine shake and leaves contacts, 15 ms and
    longer. every_s: one sample kept of so much. around_s, longest_s: window before and after far
    travel, and its longest piece; each has an offset and slope of its own, for braking and
    cornering. relative_error: of forces, what sensors and model miss in a hit. correlated_s:
    residuals hold together this long. spring_error, damping_error, fast_damping_error: of the
    fitted spring, of the damper over critical, and of its curve where it is fast (one standard
    deviation each).
    """

    from_quantile: float = 0.7
    looked_at_quantile: float = 0.95
    least_travel_m: float = 4e-3
    least_range_m: float = 3e-3
    step_m: float = 1e-3
    most_knots: int = 40
    smooth_s: float = 6e-3
    every_s: float = 5e-3
    around_s: float = 0.08
    longest_s: float = 0.4
    fewest_samples: int = 8
    least_cover: float = 0.1
    relative_error: float = 0.07
    correlated_s: float = 0.01
    loss_s_per_m: float = 0.6
    spring_error: float = 0.03
    damping_error: float = 0.005
    fast_damping_error: float = 0.06


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StopEquations:
    """Normal equations of hinge forces at all stops.

    `knots_m` per stop of `STOPS`, empty where too little travel was used; `normal` (h, h), `target`
    (h,) over the hinges of all stops one after another, each stop's plain ones first, then its
    lossy ones; `misfit` without any stop force; `count` of independent readings.
    """

    knots_m: tuple[FloatArray, ...]
    normal: FloatArray
    target: FloatArray
    misfit: float
    count: float

    def places(self, stop: int) -> slice:
        """Places of a stop's hinges, plain and lossy."""
        start = 2 * sum(len(knots) for knots in self.knots_m[:stop])
        return slice(start, start + 2 * len(self.knots_m[stop]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Window:
    """One piece: owed (rows, m), columns (rows, h + nuisances, m), offset and slope (2, m)."""

    owed: FloatArray
    columns: FloatArray
    trend: FloatArray


def stop_equations(
    stretches: Sequence[OwedForce], settings: WindowSettings | None = None
) -> StopEquations | None:
    """Normal equations of the forces at the stops; None where no stop can have been touched.

    Parameters
    ----------
    stretches : sequence of OwedForce
        What is owed.
    settings : WindowSettings, optional
        Settings.

    Notes
    -----
    Readings and hinges go through one and the same smoothing, blanks included, so that nothing is
    blurred on one side only. Errors of spring, damper and slow forces are integrated out.

    References
    ----------
    Derived here. Elimination of nuisance parameters: any text on least squares.
    """
    s = settings or WindowSettings()
    knots = tuple(_knots(stretches, axle, sign, s) for axle, sign in STOPS)
    windows = [w for stretch in stretches for w in _windows(stretch, knots, s)]
    if not windows:
        return None
    noise = _noise(windows)
    hinge_count = 2 * sum(len(each) for each in knots)
    size = windows[0].columns.shape[1]
    normal, target, misfit, count = np.zeros((size, size)), np.zeros(size), 0.0, 0
    together = max(1.0, s.correlated_s / s.every_s)
    for window in windows:
        for row in range(len(noise)):
            columns, owed = _weighted(window, row, float(noise[row]), s)
            normal += columns @ columns.T / together
            target += columns @ owed / together
            misfit += float(owed @ owed) / together
            count += len(owed)
    nuisance = np.arange(hinge_count, size)
    normal[nuisance, nuisance] += 1 / _nuisance_deviations(stretches[0], s) ** 2
    solved = np.linalg.solve(
        normal[hinge_count:, hinge_count:],
        np.column_stack([normal[hinge_count:, :hinge_count], target[hinge_count:]]),
    )
    across = normal[:hinge_count, hinge_count:]
    return StopEquations(
        knots_m=knots,
        normal=normal[:hinge_count, :hinge_count] - across @ solved[:, :-1],
        target=target[:hinge_count] - across @ solved[:, -1],
        misfit=misfit - float(target[hinge_count:] @ solved[:, -1]),
        count=count / together,
    )


def _knots(stretches: Sequence[OwedForce], axle: int, sign: float, s: WindowSettings) -> FloatArray:
    """Travel into a stop at which its force may begin [m]."""
    travel = np.concatenate(
        [(sign * each.travel_m[2 * axle : 2 * axle + 2, each.inside]).ravel() for each in stretches]
    )
    if not travel.size:
        return np.zeros(0)
    low, high = max(float(np.quantile(travel, s.from_quantile)), s.least_travel_m), travel.max()
    if high - low < s.least_range_m:
        return np.zeros(0)
    return np.arange(low, high, max(s.step_m, (high - low) / s.most_knots))


def _kernel(sample_rate_hz: float, s: WindowSettings) -> FloatArray:
    reach = int(np.ceil(3.5 * s.smooth_s * sample_rate_hz))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sample_rate_hz / s.smooth_s) ** 2)
    return np.asarray(kernel / kernel.sum())


def _windows(stretch: OwedForce, knots: Sequence[FloatArray], s: WindowSettings) -> list[_Window]:
    rate = stretch.sample_rate_hz
    far = np.zeros(len(stretch.inside), dtype=bool)
    for (axle, sign), each in zip(STOPS, knots, strict=True):
        if len(each):
            pair = sign * stretch.travel_m[2 * axle : 2 * axle + 2]
            start = float(np.quantile(pair[:, stretch.inside], s.looked_at_quantile))
            far |= np.any(pair > max(start, float(each[0])), axis=0)
    reach = round(s.around_s * rate)
    near = np.convolve(far, np.ones(2 * reach + 1), mode="same") > 0.5
    longest = round(s.longest_s * rate)
    found = []
    for run in find_stretches(near & stretch.inside):
        pieces = int(np.ceil((run.stop - run.start) / longest))
        edges = np.linspace(run.start, run.stop, pieces + 1).astype(int)
        for start, stop in pairwise(edges):
            window = _window(stretch, int(start), int(stop), knots, s)
            if window is not None:
                found.append(window)
    return found


def _window(
    stretch: OwedForce, start: int, stop: int, knots: Sequence[FloatArray], s: WindowSettings
) -> _Window | None:
    from scipy.ndimage import convolve1d

    kernel = _kernel(stretch.sample_rate_hz, s)
    low = max(start - len(kernel), 0)
    part = slice(low, min(stop + len(kernel), len(stretch.inside)))
    whole = stretch.whole[part].astype(float)
    kept = np.arange(start - low, stop - low, max(1, round(s.every_s * stretch.sample_rate_hz)))
    kept = kept[convolve1d(whole, kernel)[kept] > s.least_cover]
    if len(kept) < s.fewest_samples:
        return None

    def smooth(rows: FloatArray) -> FloatArray:
        return np.asarray(convolve1d(rows * whole, kernel, axis=-1)[..., kept])

    travel, speed = stretch.travel_m[:, part], stretch.speed_m_per_s[:, part]
    by_axle: list[tuple[int, FloatArray]] = []
    for (axle, sign), each in zip(STOPS, knots, strict=True):
        if len(each):
            pair = slice(2 * axle, 2 * axle + 2)
            into, rate = sign * travel[pair, None], sign * speed[pair, None]
            hinges = np.maximum(into - each[:, None], 0.0)
            lossy = hinges * np.maximum(1 + s.loss_s_per_m * rate, 0.0)
            by_axle.append((axle, sign * smooth(np.concatenate([hinges, lossy], axis=1))))
    for axle in range(2):
        by_axle.append((axle, smooth(_nuisances(stretch, axle, travel, speed))))
    columns = [
        np.einsum("rc,ckm->rkm", stretch.share[:, 2 * axle : 2 * axle + 2], rows)
        for axle, rows in by_axle
    ]
    line = np.stack([np.ones_like(whole), np.linspace(-1.0, 1.0, len(whole))])
    return _Window(
        owed=smooth(stretch.owed_n[:, part]),
        columns=np.concatenate(columns, axis=1),
        trend=smooth(line),
    )


def _nuisances(stretch: OwedForce, axle: int, travel: FloatArray, speed: FloatArray) -> FloatArray:
    """Forces that may be wrong in the fit, of 1 N/m or 1 N s/m, shape (2, 6, n)."""
    pair = slice(2 * axle, 2 * axle + 2)
    x, v = travel[pair], speed[pair]
    rebound, bump = stretch.fast_m_per_s[pair, 0, None], stretch.fast_m_per_s[pair, 1, None]
    fast = [
        part
        for factor in (1.0, 3.0)
        for part in (np.maximum(v - factor * bump, 0.0), np.minimum(v - factor * rebound, 0.0))
    ]
    return np.stack([x, v, *fast], axis=1)


def _nuisance_deviations(stretch: OwedForce, s: WindowSettings) -> FloatArray:
    damping = np.array([s.damping_error] + 4 * [s.fast_damping_error])
    pieces = [
        np.concatenate(([s.spring_error * rate], damping * critical))
        for rate, critical in zip(
            stretch.spring_rate_n_per_m, stretch.critical_damping_n_s_per_m, strict=True
        )
    ]
    return np.concatenate(pieces)


def _without_trend(rows: FloatArray, trend: FloatArray, weight: FloatArray) -> FloatArray:
    """Rows (..., m) less their weighted straight line."""
    line = trend * weight
    return np.asarray(rows - (rows @ line.T) @ np.linalg.solve(line @ trend.T, trend))


def _noise(windows: Sequence[_Window]) -> FloatArray:
    """Standard deviation of each row away from hits."""
    rows = [_without_trend(w.owed, w.trend, np.ones(w.owed.shape[1])) for w in windows]
    every = np.abs(np.concatenate(rows, axis=1))
    return np.asarray(1.4826 * np.median(every, axis=1))


def _weighted(
    window: _Window, row: int, noise: float, s: WindowSettings
) -> tuple[FloatArray, FloatArray]:
    """Columns (h + nuisances, m) and owed force (m,) over their error, trend taken off."""
    owed = window.owed[row]
    size = np.maximum(np.abs(owed - np.median(owed)) - 3 * noise, 0.0)
    padded = np.pad(size, 1)
    size = np.maximum(np.maximum(padded[:-2], padded[2:]), size)
    error = np.hypot(noise, s.relative_error * size)
    weight = error**-2
    columns = _without_trend(window.columns[row], window.trend, weight) / error
    return columns, _without_trend(owed, window.trend, weight) / error
