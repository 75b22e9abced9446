"""Where the stops begin, from the force on the body that spring and damper leave over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ridelog.estimate.owed_force import STOPS, OwedForce
from ridelog.estimate.result import Estimate
from ridelog.estimate.stop_shapes import (
    ShapeEquations,
    StopFit,
    fit_stops,
    secant_rate,
    shape_equations,
)
from ridelog.estimate.stop_windows import StopEquations, WindowSettings, stop_equations
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class StopGapSettings:
    """Settings of `find_gaps`.

    least_gain: drop of the misfit that proves a stop, far above chance (5 shapes give 21 once in a
    thousand), for what is left is not noise alone. least_rate_ratio: a stop softer than this part
    of the spring beside it is none. edge_knots: a force that begins where the search does is a
    curved spring. coarse_step: every so many knots first. fine_within: then all near those not
    worse by more. interval_gain: rise of the misfit, over chance, at the ends of the interval.
    least_below_m, least_above_m: a stop has no sharp touch point, and foam begins so softly that it
    is felt late, never early. travel_gain_tolerance: one standard deviation, a sensor calibrated
    with a caliper.
    """

    least_gain: float = 60.0
    least_rate_ratio: float = 0.4
    edge_knots: int = 2
    coarse_step: int = 3
    fine_within: float = 20.0
    sweeps: int = 6
    interval_gain: float = 12.0
    least_below_m: float = 4e-3
    least_above_m: float = 2.5e-3
    travel_gain_tolerance: float = 0.004
    windows: WindowSettings = field(default_factory=WindowSettings)


def find_gaps(
    stretches: Sequence[OwedForce], settings: StopGapSettings | None = None
) -> dict[int, Estimate]:
    """Gaps between ride height and the touch points of the stops, found from the drive itself.

    Parameters
    ----------
    stretches : sequence of OwedForce
        What spring, damper and friction leave unexplained; those must have been fitted away from
        the stops.
    settings : StopGapSettings, optional
        Settings.

    Returns
    -------
    dict
        Gap [mm], positive, by place in `STOPS`; left out where the stop was not reached, or too
        seldom to tell. Both sides of an axle share it.

    Notes
    -----
    The force of a stop begins at the gap and rises with a mix of first, second and third power of
    the depth, none of them negative, with or without loss. The gap with the least misfit wins, all
    four stops in turn until none moves; the interval holds the gaps whose misfit is not worse by
    more than chance. Valid for stops stiffer than a good part of the spring; a stop that starts
    very softly is told late.

    References
    ----------
    Derived here. Interval from the profile of the misfit: W. H. Press et al., Numerical Recipes,
    3rd ed. (2007), section 15.6.5.
    """
    s = settings or StopGapSettings()
    equations = stop_equations(stretches, s.windows)
    if equations is None:
        return {}
    shapes = shape_equations(equations)
    search = _Search(equations, shapes, s)
    rates = stretches[0].spring_rate_n_per_m
    while True:
        knots = search.settle()
        fit = fit_stops(shapes, knots)
        doubtful = [
            stop
            for stop, knot in knots.items()
            if search.at_edge(stop, knot)
            or _softness(equations, fit, stop, knot) < s.least_rate_ratio * rates[STOPS[stop][0]]
        ]
        if not doubtful:
            break
        search.refused.update(doubtful)
    return {stop: search.estimate(stop, knots) for stop in knots}


def _softness(equations: StopEquations, fit: StopFit, stop: int, knot: int) -> float:
    """Force over depth at the deepest [N/m]."""
    knots = equations.knots_m[stop]
    return secant_rate(fit.strengths[stop], float(knots[-1] - knots[knot]))


class _Search:
    """The misfit of all stops, one gap varied at a time."""

    def __init__(
        self, equations: StopEquations, shapes: ShapeEquations, settings: StopGapSettings
    ) -> None:
        self._equations, self._shapes, self._settings = equations, shapes, settings
        self.refused: set[int] = {
            stop for stop, knots in enumerate(equations.knots_m) if len(knots) < 5
        }
        self._chance = 1.0

    def settle(self) -> dict[int, int]:
        """Knots of the stops that are there."""
        s, chosen = self._settings, dict[int, int]()
        open_stops = [stop for stop in range(len(STOPS)) if stop not in self.refused]
        if not open_stops:
            return chosen
        gains = {stop: self._best(stop, chosen) for stop in open_stops}
        first = max(open_stops, key=lambda stop: gains[stop][0])
        chosen[first] = gains[first][1]
        for _ in range(s.sweeps):
            before = dict(chosen)
            for stop in open_stops:
                gain, knot = self._best(stop, chosen)
                chosen.pop(stop, None)
                if gain > s.least_gain * self._chance:
                    chosen[stop] = knot
            if chosen == before:
                break
        return chosen

    def profile(self, stop: int, chosen: Mapping[int, int]) -> tuple[float, FloatArray]:
        """Misfit without the stop, and with it beginning at each knot."""
        s = self._settings
        others = {other: knot for other, knot in chosen.items() if other != stop}
        without = fit_stops(self._shapes, others).misfit
        count = len(self._equations.knots_m[stop]) - 2
        misfits = np.full(count, np.nan)
        for knot in range(0, count, s.coarse_step):
            misfits[knot] = fit_stops(self._shapes, {**others, stop: knot}).misfit
        known = np.flatnonzero(np.isfinite(misfits))
        close = known[misfits[known] < np.nanmin(misfits) + s.fine_within * self._chance]
        for knot in range(count):
            if np.isnan(misfits[knot]) and np.any(np.abs(close - knot) < s.coarse_step):
                misfits[knot] = fit_stops(self._shapes, {**others, stop: knot}).misfit
        known = np.flatnonzero(np.isfinite(misfits))
        return without, np.interp(np.arange(count), known, misfits[known])

    def _best(self, stop: int, chosen: Mapping[int, int]) -> tuple[float, int]:
        without, misfits = self.profile(stop, chosen)
        knot = int(np.argmin(misfits))
        self._chance = max(1.0, float(misfits[knot]) / self._equations.count)
        return without - float(misfits[knot]), knot

    def at_edge(self, stop: int, knot: int) -> bool:
        """Whether the force begins where the search does."""
        return knot < self._settings.edge_knots

    def estimate(self, stop: int, chosen: Mapping[int, int]) -> Estimate:
        """Gap [mm] of one stop with its interval."""
        s = self._settings
        _, misfits = self.profile(stop, chosen)
        knots = self._equations.knots_m[stop]
        step = float(knots[1] - knots[0])
        value, lowest = _lowest(knots, misfits)
        grid = np.linspace(knots[0], knots[len(misfits) - 1], 20 * len(misfits))
        inside = grid[
            np.interp(grid, knots[: len(misfits)], misfits)
            <= lowest + s.interval_gain * self._chance
        ]
        low = min(float(inside.min()), value) if inside.size else value - step / 2
        high = max(float(inside.max()), value) if inside.size else value + step / 2
        by_gain = 1.96 * s.travel_gain_tolerance * value
        below, above = (float(np.hypot(m, by_gain)) for m in (s.least_below_m, s.least_above_m))
        fixed = (below + above) / 2
        return Estimate(
            value=value * 1e3,
            low=(value - float(np.hypot(value - low, below))) * 1e3,
            high=(value + float(np.hypot(high - value, above))) * 1e3,
            random_half_width=(high - low) / 2 * 1e3,
            systematic_half_width=fixed * 1e3,
            largest_contributor=(
                "length of the log" if (high - low) / 2 > fixed else "no sharp touch point"
            ),
        )


def _lowest(knots: FloatArray, misfits: FloatArray) -> tuple[float, float]:
    """Gap [m] and misfit at the bottom of the parabola through the lowest knot."""
    knot = int(np.argmin(misfits))
    if not 0 < knot < len(misfits) - 1:
        return float(knots[knot]), float(misfits[knot])
    left, middle, right = misfits[knot - 1 : knot + 2]
    bend = left - 2 * middle + right
    if bend <= 0:
        return float(knots[knot]), float(middle)
    shift = float(0.5 * (left - right) / bend)
    return float(knots[knot] + shift * (knots[1] - knots[0])), float(
        middle - 0.25 * (left - right) * shift
    )
