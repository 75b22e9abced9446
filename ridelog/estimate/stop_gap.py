"""Where the stops begin, from the force on the body that spring and damper leave over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ridelog.estimate.owed_force import STOPS, OwedForce
from ridelog.estimate.result import Estimate
from ridelog.estimate.stop_equations import StopEquations, stop_equations
from ridelog.estimate.stop_shapes import (
    RatePrior,
    ShapeEquations,
    StopFit,
    StopLaw,
    fit_stops,
    secant_rate,
    shape_equations,
)
from ridelog.estimate.stop_windows import WindowSettings
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class StopGapSettings:
    """Settings of `find_gaps`.

    least_gain: drop of the misfit that proves a stop, far above chance (5 unknowns give 21 once in
    a thousand), for what is left is not noise alone. least_rate_ratio: a stop softer than this part
    of the spring beside it is none. edge_knots: a force that begins where the search does is a
    curved spring. coarse_step: every so many knots first. fine_within: then all near those not
    worse by more. doubt: misfits over chance count one part in this many, for residuals hold
    together in a hit. likely_rate_ratio, rate_log_deviation: rate at the touch point over that of
    the spring beside it, for a stop is made to take over from the spring without a jolt (common
    practice, no source). loss_shares: losses tried, over that of `WindowSettings`. least_below_m,
    least_above_m: a stop has no sharp touch point, and foam begins so softly that it is felt late,
    never early. travel_gain_tolerance: one standard deviation, a sensor calibrated with a caliper.
    """

    least_gain: float = 60.0
    least_rate_ratio: float = 0.4
    edge_knots: int = 2
    coarse_step: int = 3
    fine_within: float = 20.0
    sweeps: int = 6
    doubt: float = 3.0
    likely_rate_ratio: float = 1.0
    rate_log_deviation: float = 0.6
    loss_shares: tuple[float, ...] = (0.0, 1 / 6, 2 / 6, 3 / 6, 4 / 6, 5 / 6, 1.0)
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
    the depth, none of them negative, all with the same loss. The law with the least misfit is
    sought for all four stops in turn until none moves; the gap told is the mean over all touch
    points, weighted by how well the best law from there fits. Without a belief about the rate at
    the touch point, a cubic from 5 mm before and a line from 5 mm behind it often fit as well as
    the truth. Valid for stops stiffer than a good part of the spring; one that starts much more
    softly is told late.

    References
    ----------
    Derived here. Mean and interval from the likelihood of the touch point, other unknowns at their
    best: A. Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), ch. 2 and 4 (from memory).
    """
    s = settings or StopGapSettings()
    equations = stop_equations(stretches, s.windows)
    if equations is None:
        return {}
    shapes = shape_equations(equations)
    rates = stretches[0].spring_rate_n_per_m
    search = _Search(equations, shapes, np.array([rates[axle] for axle, _ in STOPS]), s)
    while True:
        laws = search.settle()
        fit = search.fit(laws)
        doubtful = [
            stop
            for stop, law in laws.items()
            if search.at_edge(law)
            or _softness(equations, fit, stop, law) < s.least_rate_ratio * rates[STOPS[stop][0]]
        ]
        if not doubtful:
            break
        search.refused.update(doubtful)
    return {stop: search.estimate(stop, laws) for stop in laws}


def _softness(equations: StopEquations, fit: StopFit, stop: int, law: StopLaw) -> float:
    """Force over depth at the deepest [N/m]."""
    knots = equations.knots_m[stop]
    return secant_rate(fit.strengths[stop], float(knots[-1] - knots[law.knot]))


class _Search:
    """The misfit of all stops, one gap varied at a time."""

    def __init__(
        self,
        equations: StopEquations,
        shapes: ShapeEquations,
        rates_n_per_m: FloatArray,
        settings: StopGapSettings,
    ) -> None:
        self._equations, self._shapes, self._settings = equations, shapes, settings
        self._rates_n_per_m = rates_n_per_m
        self.refused: set[int] = {
            stop for stop, knots in enumerate(equations.knots_m) if len(knots) < 5
        }
        self._chance = 1.0

    def settle(self) -> dict[int, StopLaw]:
        """Laws of the stops that are there."""
        s, chosen = self._settings, dict[int, StopLaw]()
        open_stops = [stop for stop in range(len(STOPS)) if stop not in self.refused]
        if not open_stops:
            return chosen
        best = {stop: self._best(stop, chosen) for stop in open_stops}
        first = max(open_stops, key=lambda stop: best[stop][0])
        chosen[first] = best[first][1]
        for _ in range(s.sweeps):
            before = dict(chosen)
            for stop in open_stops:
                gain, law = self._best(stop, chosen)
                chosen.pop(stop, None)
                if gain > s.least_gain * self._chance:
                    chosen[stop] = law
            if chosen == before:
                break
        return chosen

    def fit(self, laws: Mapping[int, StopLaw]) -> StopFit:
        """Forces of stops."""
        s = self._settings
        prior = RatePrior(
            rates_n_per_m=s.likely_rate_ratio * self._rates_n_per_m,
            log_deviation=s.rate_log_deviation,
            weight=s.doubt * self._chance,
        )
        return fit_stops(self._shapes, laws, prior)

    def profile(
        self, stop: int, chosen: Mapping[int, StopLaw]
    ) -> tuple[float, FloatArray, FloatArray]:
        """Misfit without the stop, then with it beginning at each knot; loss at each knot."""
        s = self._settings
        others = {other: law for other, law in chosen.items() if other != stop}
        without = self.fit(others).penalized
        count = len(self._equations.knots_m[stop]) - 2
        misfits, losses = np.full(count, np.nan), np.zeros(count)
        near = chosen[stop].loss_share if stop in chosen else s.loss_shares[len(s.loss_shares) // 2]

        def look(knot: int, start: float) -> None:
            misfits[knot], losses[knot] = self._lossy(stop, knot, others, start)

        for knot in range(0, count, s.coarse_step):
            look(knot, near)
            near = losses[knot]
        known = np.flatnonzero(np.isfinite(misfits))
        close = known[misfits[known] < np.nanmin(misfits) + s.fine_within * self._chance]
        for knot in range(count):
            if np.isnan(misfits[knot]) and np.any(np.abs(close - knot) < s.coarse_step):
                look(knot, losses[known[np.argmin(np.abs(known - knot))]])
        known = np.flatnonzero(np.isfinite(misfits))
        return without, np.interp(np.arange(count), known, misfits[known]), losses

    def _lossy(
        self, stop: int, knot: int, others: Mapping[int, StopLaw], start: float
    ) -> tuple[float, float]:
        """Misfit at the best loss, sought from `start` on, and that loss."""
        shares = self._settings.loss_shares
        tried: dict[int, float] = {}

        def misfit(place: int) -> float:
            if place not in tried:
                laws = {**others, stop: StopLaw(knot, shares[place])}
                tried[place] = self.fit(laws).penalized
            return tried[place]

        place = int(np.argmin(np.abs(np.array(shares) - start)))
        while True:
            beside = [p for p in (place - 1, place + 1) if 0 <= p < len(shares)]
            better = min(beside, key=misfit)
            if misfit(better) >= misfit(place):
                return misfit(place), shares[place]
            place = better

    def _best(self, stop: int, chosen: Mapping[int, StopLaw]) -> tuple[float, StopLaw]:
        without, misfits, losses = self.profile(stop, chosen)
        knot = int(np.argmin(misfits))
        self._chance = max(1.0, float(misfits[knot]) / self._equations.count)
        return without - float(misfits[knot]), StopLaw(knot, float(losses[knot]))

    def at_edge(self, law: StopLaw) -> bool:
        """Whether the force begins where the search does."""
        return law.knot < self._settings.edge_knots

    def estimate(self, stop: int, chosen: Mapping[int, StopLaw]) -> Estimate:
        """Gap [mm] of one stop with its interval."""
        s = self._settings
        _, misfits, _ = self.profile(stop, chosen)
        knots = self._equations.knots_m[stop][: len(misfits)]
        value, low, high = likely_knots(knots, misfits / (s.doubt * self._chance))
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


def likely_knots(knots: FloatArray, misfits: FloatArray) -> tuple[float, float, float]:
    """Mean of a touch point, and its 95 % interval, from misfits in units of chance.

    Parameters
    ----------
    knots : ndarray
        Touch points tried [m], shape (k,).
    misfits : ndarray
        Misfit at each, squares over variance [-], shape (k,).

    References
    ----------
    See `find_gaps`.
    """
    from scipy.interpolate import Akima1DInterpolator

    grid = np.linspace(knots[0], knots[-1], 20 * len(knots))
    # Not a cubic spline: beside a steep slope that swings below all that was tried.
    rise = Akima1DInterpolator(knots, misfits)(grid)
    likely = np.exp(-0.5 * (rise - rise.min()))
    share = np.cumsum(likely) / likely.sum()
    value = float(grid @ likely / likely.sum())
    low, high = (float(grid[np.searchsorted(share, each)]) for each in (0.025, 0.975))
    return value, min(low, value), max(high, value)
