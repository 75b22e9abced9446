"""Normal equations of the forces at the stops, from windows around far travel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridelog.estimate.owed_force import STOPS, OwedForce
from ridelog.estimate.stop_windows import (
    Window,
    WindowSettings,
    cut_windows,
    nuisance_deviations,
    stop_knots,
)
from ridelog.recording import FloatArray


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
    knots = tuple(stop_knots(stretches, axle, sign, s) for axle, sign in STOPS)
    windows = [w for stretch in stretches for w in cut_windows(stretch, knots, s)]
    if not windows:
        return None
    hinge_count = 2 * sum(len(each) for each in knots)
    precision = np.zeros(windows[0].columns.shape[1])
    precision[hinge_count:] = 1 / nuisance_deviations(stretches[0], s) ** 2
    much_n = s.much_travel_m * _steepest(stretches[0])
    explained = [np.zeros_like(window.owed) for window in windows]
    for again in range(s.passes):
        noise = _noise(windows, explained)
        normal, target, misfit, count = _sums(windows, explained, noise, much_n, s)
        normal[np.diag_indices_from(normal)] += precision
        if again < s.passes - 1:
            ridge = np.zeros_like(precision)
            ridge[:hinge_count] = s.hinge_ridge * np.diag(normal)[:hinge_count] + 1e-30
            all_forces = np.linalg.solve(normal + np.diag(ridge), target)
            explained = [np.einsum("p,rpm->rm", all_forces, w.columns) for w in windows]
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
        count=count,
    )


def _without_trend(rows: FloatArray, trend: FloatArray, weight: FloatArray) -> FloatArray:
    """Rows (..., m) less their weighted straight line and shake."""
    line = trend * weight
    return np.asarray(rows - (rows @ line.T) @ np.linalg.solve(line @ trend.T, trend))


def _steepest(stretch: OwedForce) -> FloatArray:
    """Change of each row with travel at the corner that counts most there [N/m, N]."""
    rates = np.repeat(stretch.spring_rate_n_per_m, 2)
    return np.asarray(np.max(np.abs(stretch.share) * rates, axis=1))


def _noise(windows: Sequence[Window], explained: Sequence[FloatArray]) -> FloatArray:
    """Standard deviation of each row away from hits."""
    rows = [
        _without_trend(w.owed - known, w.trend, np.ones(w.owed.shape[1]))
        for w, known in zip(windows, explained, strict=True)
    ]
    every = np.abs(np.concatenate(rows, axis=1))
    return np.asarray(1.4826 * np.median(every, axis=1))


def _sums(
    windows: Sequence[Window],
    explained: Sequence[FloatArray],
    noise: FloatArray,
    much_n: FloatArray,
    s: WindowSettings,
) -> tuple[FloatArray, FloatArray, float, float]:
    """Normal matrix, target, misfit of nothing, and count of independent readings."""
    size, together = windows[0].columns.shape[1], max(1.0, s.correlated_s / s.every_s)
    normal, target, misfit, count = np.zeros((size, size)), np.zeros(size), 0.0, 0
    for window, known in zip(windows, explained, strict=True):
        for row in range(len(noise)):
            error = _error(known[row], float(noise[row]), float(much_n[row]), s)
            weight = error**-2
            columns = _without_trend(window.columns[row], window.trend, weight) / error
            owed = _without_trend(window.owed[row], window.trend, weight) / error
            normal += columns @ columns.T
            target += columns @ owed
            misfit += float(owed @ owed)
            count += len(owed)
    return normal / together, target / together, misfit / together, count / together


def _error(known: FloatArray, noise: float, much_n: float, s: WindowSettings) -> FloatArray:
    """Standard deviation of one row, by the forces known to be in it or beside it, shape (m,)."""
    size = np.abs(known)
    padded = np.pad(size, 1)
    size = np.maximum(np.maximum(padded[:-2], padded[2:]), size)
    return np.asarray(np.hypot(noise, s.relative_error * size * (1 + size / much_n)))
