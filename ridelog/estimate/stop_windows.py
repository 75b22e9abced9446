"""Forces owed to the stops, cut to the moments of far travel.

Whatever a stop's law, its force is a sum of hinges: nothing up to a knot, then rising straight.
All gaps and shapes that are tried later are such sums, so the log is gone through only once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ridelog.estimate.engine_shake import shake_frequencies
from ridelog.estimate.owed_force import STOPS, OwedForce
from ridelog.estimate.stretches import find_stretches
from ridelog.recording import FloatArray

# Where a damper's curve may bend beyond what the fit knows, in speeds beyond which it is little
# known: even on a log scale up to what a hit reaches.
_BENDS = (0.5, 1.0, 1.5, 2.2, 3.3, 5.0, 7.5, 11.0, 17.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowSettings:
    """Settings of `stop_equations`.

    from_quantile: more seldom than the rest of the time is a stop touched, or it would be a spring.
    looked_at_quantile: windows open where travel is beyond; least_travel_m: never nearer than this
    to ride height. least_range_m: less travel beyond shows no knee. step_m, most_knots: distance of
    knots. smooth_s: a Gaussian this wide takes out engine shake and leaves contacts, 15 ms and
    longer. every_s: one sample kept of so much. around_s, longest_s: window before and after far
    travel, and its longest piece; each has an offset and slope of its own, for braking and
    cornering, and an engine's shake. relative_error: of forces, what sensors and model miss in a
    hit, twice as much where the force is that of the springs at much_travel_m, for three powers do
    not follow rubber that is pressed flat. correlated_s: residuals hold together this long.
    spring_error, damping_error, fast_damping_error: of the fitted spring, of the damper over
    critical, and of each change of its slope where it is fast (one standard deviation each); a hit
    is ten times faster than the drive, and a line drawn on to there is thousands of newtons out.
    passes: the first takes all for noise that is left over, the others what no stop or damper
    explains. hinge_ridge: steadies the hinges while noise is told.
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
    relative_error: float = 0.03
    much_travel_m: float = 0.05
    correlated_s: float = 0.01
    loss_s_per_m: float = 0.6
    spring_error: float = 0.03
    damping_error: float = 0.005
    fast_damping_error: float = 0.3
    passes: int = 2
    hinge_ridge: float = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """One piece: owed (rows, m), columns (rows, h + nuisances, m), trend (2 or 4, m).

    The trend is what is slow, and the engine's shake.
    """

    owed: FloatArray
    columns: FloatArray
    trend: FloatArray


def stop_knots(
    stretches: Sequence[OwedForce], axle: int, sign: float, s: WindowSettings
) -> FloatArray:
    """Travel into a stop at which its force may begin [m], shape (k,).

    Parameters
    ----------
    stretches : sequence of OwedForce
        What is owed.
    axle, sign : int, float
        The stop, as in `STOPS`.
    s : WindowSettings
        Settings.
    """
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


def cut_windows(stretch: OwedForce, knots: Sequence[FloatArray], s: WindowSettings) -> list[Window]:
    """Pieces of a stretch around far travel.

    Parameters
    ----------
    stretch : OwedForce
        What is owed.
    knots : sequence of ndarray
        Those of each stop [m].
    s : WindowSettings
        Settings.
    """
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
    pieces: list[tuple[int, int]] = []
    for run in find_stretches(near & stretch.inside):
        count = int(np.ceil((run.stop - run.start) / longest))
        edges = np.linspace(run.start, run.stop, count + 1).astype(int).tolist()
        pieces += pairwise(edges)
    middles = [(start + stop) // 2 for start, stop in pieces]
    shakes = shake_frequencies(stretch.owed_n[0], near, middles, rate)
    windows = [
        _window(stretch, piece, knots, shake_hz, s)
        for piece, shake_hz in zip(pieces, shakes, strict=True)
    ]
    return [window for window in windows if window is not None]


def _window(
    stretch: OwedForce,
    piece: tuple[int, int],
    knots: Sequence[FloatArray],
    shake_hz: float | None,
    s: WindowSettings,
) -> Window | None:
    from scipy.ndimage import convolve1d

    start, stop = piece
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
    trend = [np.ones_like(whole), np.linspace(-1.0, 1.0, len(whole))]
    if shake_hz is not None:
        angle = 2 * np.pi * shake_hz * np.arange(len(whole)) / stretch.sample_rate_hz
        trend += [np.cos(angle), np.sin(angle)]
    return Window(
        owed=smooth(stretch.owed_n[:, part]),
        columns=np.concatenate(columns, axis=1),
        trend=smooth(np.stack(trend)),
    )


def _nuisances(stretch: OwedForce, axle: int, travel: FloatArray, speed: FloatArray) -> FloatArray:
    """Forces that may be wrong in the fit, of 1 N/m or 1 N s/m, shape (2, 2 + bends, n)."""
    pair = slice(2 * axle, 2 * axle + 2)
    x, v = travel[pair], speed[pair]
    rebound, bump = stretch.fast_m_per_s[pair, 0, None], stretch.fast_m_per_s[pair, 1, None]
    fast = [
        part
        for factor in _BENDS
        for part in (np.maximum(v - factor * bump, 0.0), np.minimum(v - factor * rebound, 0.0))
    ]
    return np.stack([x, v, *fast], axis=1)


def nuisance_deviations(stretch: OwedForce, s: WindowSettings) -> FloatArray:
    """Standard deviations of what may be wrong in the fit [N/m, N s/m], front then rear.

    Parameters
    ----------
    stretch : OwedForce
        Scales of springs and dampers.
    s : WindowSettings
        Settings.
    """
    damping = np.array([s.damping_error] + 2 * len(_BENDS) * [s.fast_damping_error])
    pieces = [
        np.concatenate(([s.spring_error * rate], damping * critical))
        for rate, critical in zip(
            stretch.spring_rate_n_per_m, stretch.critical_damping_n_s_per_m, strict=True
        )
    ]
    return np.concatenate(pieces)
