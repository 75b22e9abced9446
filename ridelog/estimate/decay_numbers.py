"""From fitted unknowns to the contract's numbers with their intervals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.estimate.decay_fit import GAIN, LAG, DecayFit, Prior
from ridelog.estimate.decay_model import AXLE_PARAMETERS, WELL_KNOWN
from ridelog.estimate.result import AxleResult, Estimate
from ridelog.recording import FloatArray

METHOD = (
    "free decay: two axles on their tyres with asymmetric, digressive dampers and dry friction, "
    "fitted to all decays together"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalSettings:
    """What is added to the fit's own doubt, and from where on a number is not told at all.

    The allowances cover what no model has right (the shape of friction and of the damper's force
    curve, hands at the release); found on simulated cars of other shapes than the model's.
    """

    sigma_95: float = 1.96
    growth: float = 1.1  # what linear intervals lack: errors over the fit's own deviation, rms
    misfit_blocks: float = 12.0  # over which what the model leaves hangs together
    assumed_decays: float = 2.0  # that scatter as noise does, against chance among few decays
    least_weight: float = 1e-3  # of all decays for a number, below which it is prior knowledge
    frequency_allowance: float = 0.002  # one standard deviation, relative
    damping_allowance: float = 0.015
    side_allowance: float = 0.03  # bump and rebound apart
    friction_allowance_n: float = 1.0
    worst_frequency: float = 0.025  # standard deviation, relative, beyond which: None
    worst_damping: float = 0.14
    worst_side: float = 0.20
    worst_friction_n: float = 12.0


def quantities(shared: FloatArray, axle: int) -> dict[str, float]:
    """Logarithms of the contract's numbers of one axle (0 front, 1 rear) from unknowns (34,).

    References
    ----------
    The public contract's definitions: ride rate K T / (K + T); ratio on the wheel rate K.
    """
    size = len(AXLE_PARAMETERS)
    log = dict(zip(AXLE_PARAMETERS, shared[axle * size : (axle + 1) * size], strict=True))
    rate, tyre, mass = log["wheel_rate"], log["tyre_rate"], log["sprung_mass"]
    tyre_share = float(-np.log1p(np.exp(rate - tyre)))  # T / (K + T)
    spring = 0.5 * (rate - mass) - np.log(2 * np.pi)
    damping = log["damping"] + 2 * log["motion_ratio"] - np.log(2) - 0.5 * (rate + mass)
    side = np.log(2) - np.log1p(np.exp(log["asymmetry"]))
    return {
        "body_frequency_hz": spring + 0.5 * tyre_share,
        "spring_frequency_hz": spring,
        "damping_ratio": damping,
        "damping_ratio_bump": damping + side,
        "damping_ratio_rebound": damping + side + log["asymmetry"],
        "decay_damping_ratio": damping + 1.5 * tyre_share,
        "wheel_rate_n_per_m": rate,
        "friction_n": log["friction"],
    }


def axle_result(
    fit: DecayFit,
    prior: Prior,
    axle: int,
    stated_wheel_rate_n_per_m: float,
    settings: IntervalSettings,
) -> tuple[AxleResult, tuple[str, ...]]:
    """Numbers of one axle and the reasons for those that are missing.

    Parameters
    ----------
    fit : DecayFit
        A fit with `normal` over everything.
    prior : Prior
        The prior it was made with.
    axle : int
        0 front, 1 rear.
    stated_wheel_rate_n_per_m : float
        Wheel rate by the owner's spring rate [N/m].
    settings : IntervalSettings
        Allowances and limits.

    Notes
    -----
    Intervals from the curvature of the posterior (linear), widened by what the fit leaves
    beyond noise (taken as correlated over a tenth of a second), by how far the decays disagree
    among themselves and by an allowance for the model's shape, on the logarithm of each number.
    """
    covariance = np.asarray(np.linalg.inv(fit.normal), dtype=np.float64)
    scaled = covariance * np.outer(prior.shared_width, prior.shared_width)
    excess = max(0.0, fit.misfit - 1.0)
    growth = settings.growth * float(np.sqrt(1 + settings.misfit_blocks * excess))
    estimates: dict[str, Estimate | None] = {}
    missing = []
    for name, log_value in quantities(fit.shared, axle).items():
        gradient = _gradient(fit.shared, axle, name)
        along = gradient * prior.shared_width
        scatter = disagreement(fit, covariance, along, settings)
        spread = growth * scatter * float(np.sqrt(gradient @ scaled @ gradient))
        systematic, culprit = _known_share(scaled, gradient, axle)
        allowance, worst = _limits(name, float(np.exp(log_value)), settings)
        if spread > worst:
            estimates[name] = None
            missing.append(name)
            continue
        estimates[name] = _estimate(
            log_value, spread, growth * systematic, allowance, culprit, settings
        )
    rate = estimates["wheel_rate_n_per_m"]
    error = None if rate is None else _relative_to(rate, stated_wheel_rate_n_per_m)
    return AxleResult(method=METHOD, catalogue_spring_error=error, **estimates), tuple(missing)


def _gradient(shared: FloatArray, axle: int, name: str) -> FloatArray:
    step = 1e-5
    columns = np.tile(shared, (2 * len(shared), 1))
    columns += step * np.concatenate([np.eye(len(shared)), -np.eye(len(shared))])
    values = np.array([quantities(row, axle)[name] for row in columns])
    return np.asarray((values[: len(shared)] - values[len(shared) :]) / (2 * step))


def disagreement(
    fit: DecayFit, covariance: FloatArray, along: FloatArray, settings: IntervalSettings
) -> float:
    """Factor (1 or more) by which decays scatter about the common fit beyond what noise explains.

    Leaving one decay out moves the number by some amount (one linear step); noise alone would
    move it by the square root of the difference of the two variances. Decays that hardly count
    for the number hardly count here either.
    """
    squares, weights = [], []
    variance = float(along @ covariance @ along)
    for part, pull in zip(fit.decay_normal, fit.decay_pull, strict=True):
        without = np.linalg.inv(fit.normal - part)
        change = float(along @ without @ pull)
        expected = float(along @ without @ along) - variance
        squares.append(change**2 / max(expected, 1e-12 * variance))
        weights.append(expected / (expected + variance))
    weight = np.array(weights)
    if weight.sum() < settings.least_weight:
        return 1.0
    mean_square = float(weight @ np.array(squares) / weight.sum())
    count = float(weight.sum() ** 2 / (weight @ weight))
    known = settings.assumed_decays
    return float(np.sqrt(max(1.0, (known + count * mean_square) / (known + count))))


def _known_share(
    covariance: FloatArray, gradient: FloatArray, axle: int
) -> tuple[float, str | None]:
    """Standard deviation that better figures of car and sensors would remove, and the worst one."""
    size = len(AXLE_PARAMETERS)
    places = {
        f"{name.replace('_', ' ')}": axle * size + AXLE_PARAMETERS.index(name)
        for name in WELL_KNOWN
    }
    places |= {"accelerometer gain": GAIN.start + axle, "sensor delay": LAG}
    along = covariance @ gradient
    removed = {label: along[i] ** 2 / covariance[i, i] for label, i in places.items()}
    index = list(places.values())
    block = covariance[np.ix_(index, index)]
    total = float(along[index] @ np.linalg.solve(block, along[index]))
    worst = max(removed, key=lambda label: removed[label])
    dominates = total > 0.5 * float(gradient @ along)
    return float(np.sqrt(max(total, 0.0))), worst if dominates else None


def _limits(name: str, value: float, settings: IntervalSettings) -> tuple[float, float]:
    """Relative allowance and the spread beyond which the number is not told."""
    if name == "friction_n":
        floor = max(value, 5.0)
        return settings.friction_allowance_n / floor, settings.worst_friction_n / floor
    if name in ("damping_ratio_bump", "damping_ratio_rebound"):
        return settings.side_allowance, settings.worst_side
    if name in ("damping_ratio", "decay_damping_ratio"):
        return settings.damping_allowance, settings.worst_damping
    factor = 2.0 if name == "wheel_rate_n_per_m" else 1.0  # rate goes as frequency squared
    return factor * settings.frequency_allowance, factor * settings.worst_frequency


def _estimate(
    log_value: float,
    spread: float,
    systematic: float,
    allowance: float,
    culprit: str | None,
    settings: IntervalSettings,
) -> Estimate:
    half = settings.sigma_95 * float(np.hypot(spread, allowance))
    fixed = float(np.hypot(min(systematic, spread), allowance))
    random = float(np.sqrt(max(spread**2 - systematic**2, 0.0)))
    value = float(np.exp(log_value))
    return Estimate(
        value=value,
        low=value * float(np.exp(-half)),
        high=value * float(np.exp(half)),
        random_half_width=settings.sigma_95 * random * value,
        systematic_half_width=settings.sigma_95 * fixed * value,
        largest_contributor=culprit,
    )


def _relative_to(rate: Estimate, stated: float) -> Estimate:
    return Estimate(
        value=rate.value / stated - 1, low=rate.low / stated - 1, high=rate.high / stated - 1
    )
