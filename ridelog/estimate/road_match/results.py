"""From a road match to the contract's numbers, with intervals that own up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.estimate.balance.basis import piece_values
from ridelog.estimate.damper_law_prior import SECANT_SPEED_M_PER_S
from ridelog.estimate.result import AxleResult, Estimate
from ridelog.estimate.road_match.fit import RoadMatch
from ridelog.estimate.road_match.settings import RoadMatchSettings
from ridelog.recording import AXLES, FloatArray

METHOD = "match of the road that front and rear wheels meet, from travel"

_DAMPING = (
    "damping_ratio",
    "damping_ratio_bump",
    "damping_ratio_rebound",
    "decay_damping_ratio",
)
QUANTITIES = (
    "body_frequency_hz",
    "spring_frequency_hz",
    *_DAMPING,
    "wheel_hop_hz",
    "wheel_rate_n_per_m",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchIntervalSettings:
    """What the fit's own covariance leaves out, found on simulated cars of several kinds.

    Standard deviations are widened by the factors, then a relative floor is added in quadrature:
    sensor gains, masses, and friction that travel alone hardly tells from low-speed damping.
    Wider than `widest` (one relative standard deviation) is not reported. A match that still
    gained more than `restless_gain` in its last pass, or whose roads share less than
    `least_coherence`, is not trusted.
    """

    frequency_factor: float = 2.0
    damping_factor: float = 1.1
    frequency_floor: float = 0.005
    damping_floor: float = 0.07
    side_floor: float = 0.09
    hop_floor: float = 0.01
    widest_frequency: float = 0.12
    widest_damping: float = 0.40
    restless_gain: float = 100.0
    least_coherence: float = 0.4


def trusted(match: RoadMatch, settings: MatchIntervalSettings | None = None) -> bool:
    """Whether numbers may rest on a match.

    Parameters
    ----------
    match : RoadMatch
        The fit.
    settings : MatchIntervalSettings, optional
        Limits.
    """
    chosen = settings or MatchIntervalSettings()
    springs = [match.forces[match.layout.spring(axle)] for axle in (0, 1)]
    calm = match.settled and match.last_gain < chosen.restless_gain
    return bool(calm and match.coherence > chosen.least_coherence and min(springs) > 0)


def match_results(
    match: RoadMatch,
    car: Car,
    *,
    fit_settings: RoadMatchSettings | None = None,
    settings: MatchIntervalSettings | None = None,
) -> tuple[dict[str, AxleResult], tuple[str, ...]]:
    """Read both axles' results off a match.

    Parameters
    ----------
    match : RoadMatch
        From `fit_road_match`.
    car : Car
        Masses and motion ratios.
    fit_settings : RoadMatchSettings, optional
        As given to the fit.
    settings : MatchIntervalSettings, optional
        How intervals are widened and when a number is withheld.

    Returns
    -------
    tuple
        Results by axle name, and notes on what could not be told.

    References
    ----------
    Definitions: see `ridelog.estimate.result.AxleResult`. Error propagation to first order:
    JCGM 100:2008, sec. 5.2.
    """
    chosen = settings or MatchIntervalSettings()
    secants = secant_rows(match, fit_settings or RoadMatchSettings())
    point = np.concatenate([match.forces, match.inertia])
    steps = 0.01 * np.sqrt(np.diag(match.covariance))
    results, notes = {}, []
    for number, name in enumerate(AXLES):
        axle = car.axle(name)
        centre = log_quantities(point, match, axle, number, secants)
        moved = [
            log_quantities(point + move, match, axle, number, secants) for move in np.diag(steps)
        ]
        slopes = (np.array(moved) - centre) / steps[:, None]
        spread = np.sqrt(np.einsum("po,pq,qo->o", slopes, match.covariance, slopes))
        estimates = {
            key: _estimate(key, float(centre[place]), float(spread[place]), chosen)
            for place, key in enumerate(QUANTITIES)
        }
        results[name] = AxleResult(method=METHOD, **estimates)
        missing = [key for key, value in estimates.items() if value is None]
        if missing:
            words = ", ".join(_words(key) for key in missing)
            notes.append(f"{name.capitalize()} {words}: this log leaves them too uncertain")
    notes.append("Damper force and friction: need travel and body sensors together")
    return results, tuple(notes)


def secant_rows(match: RoadMatch, settings: RoadMatchSettings) -> FloatArray:
    """Secant slope in bump and rebound per unit of each curve, shape (2, curves).

    Parameters
    ----------
    match : RoadMatch
        The fit.
    settings : RoadMatchSettings
        As given to the fit.
    """
    speeds = np.array([SECANT_SPEED_M_PER_S, -SECANT_SPEED_M_PER_S])
    rows = np.zeros((2, match.layout.curves))
    values = (piece_values(speeds, settings.basis) / speeds).T
    rows[:, : values.shape[1]] = values
    return rows


def log_quantities(
    point: FloatArray, match: RoadMatch, axle: Axle, number: int, secants: FloatArray
) -> FloatArray:
    """Logarithms of `QUANTITIES` of one axle; NaN where one is not positive.

    Parameters
    ----------
    point : FloatArray
        Forces, then inertias, as in `RoadMatch`.
    match : RoadMatch
        The fit.
    axle : Axle
        Mass and motion ratio.
    number : int
        0 for front, 1 for rear.
    secants : FloatArray
        From `secant_rows`.

    Returns
    -------
    FloatArray
        Shape (quantities,).
    """
    layout = match.layout
    forces, inertia = point[: layout.count], point[layout.count :]
    wheel = forces[layout.spring(number)] * axle.motion_ratio**2
    tyre, corner_kg = np.exp(inertia[2 + number]), axle.sprung_mass_kg / 2
    wheel_damping = secants @ forces[layout.forces(number)] * axle.motion_ratio**2
    bump, rebound = wheel_damping / (2 * np.sqrt(wheel * corner_kg))
    mean = (bump + rebound) / 2
    values = (
        np.sqrt(wheel * tyre / (wheel + tyre) / corner_kg) / (2 * np.pi),
        np.sqrt(wheel / corner_kg) / (2 * np.pi),
        mean,
        bump,
        rebound,
        mean * (tyre / (wheel + tyre)) ** 1.5,
        np.sqrt((wheel + tyre) / (axle.unsprung_mass_kg / 2)) / (2 * np.pi),
        wheel,
    )
    return np.array([np.log(value) if value > 0 else np.nan for value in values])


def _estimate(
    key: str, centre: float, spread: float, settings: MatchIntervalSettings
) -> Estimate | None:
    if not np.isfinite(centre + spread):
        return None
    twice = 2.0 if key == "wheel_rate_n_per_m" else 1.0
    factor, floor = settings.frequency_factor, twice * settings.frequency_floor
    widest = twice * settings.widest_frequency
    if key in _DAMPING:
        factor, floor, widest = (
            settings.damping_factor,
            settings.damping_floor,
            settings.widest_damping,
        )
    if key in ("damping_ratio_bump", "damping_ratio_rebound"):
        floor = settings.side_floor
    if key == "wheel_hop_hz":
        floor = settings.hop_floor
    random = factor * spread
    sd = float(np.hypot(random, floor))
    if sd > widest:
        return None
    value = float(np.exp(centre))
    return Estimate(
        value=value,
        low=float(value * np.exp(-1.96 * sd)),
        high=float(value * np.exp(1.96 * sd)),
        random_half_width=float(1.96 * random * value),
        systematic_half_width=float(1.96 * floor * value),
        largest_contributor=_largest(random > floor, key in _DAMPING),
    )


def _largest(random: bool, damping: bool) -> str:
    if random:
        return "length of the log"
    return "friction in the dampers" if damping else "masses, tyre rate and sensor gains"


def _words(key: str) -> str:
    return key.removesuffix("_hz").removesuffix("_n_per_m").replace("_", " ")
