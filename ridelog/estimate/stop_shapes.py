"""Forces of a stop that begins at a given knot, as sums of hinges; fits without negative parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ridelog.estimate.stop_equations import StopEquations
from ridelog.recording import FloatArray

# Powers of the depth; rubber rises straight at first, then steeply.
_POWERS = (1, 2, 3)
#: Shapes of one stop: each power without loss, then each with the loss of `WindowSettings`.
SHAPES = 2 * len(_POWERS)
_DEPTH_SCALE_M = 0.01
# Rates at the touch point are sought this far from the expected one, as a factor.
_MOST_RATE_RATIO = 20.0


@dataclass(frozen=True, slots=True)
class StopLaw:
    """Place of the knot where a stop begins [count], and its loss over that of the shapes [-]."""

    knot: int
    loss_share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RatePrior:
    """What is believed of the rate at which a stop's force begins.

    `rates_n_per_m` per stop, `log_deviation` of it, and the `weight` of the belief against misfits
    (a misfit of one in a perfect model weighs one).
    """

    rates_n_per_m: FloatArray
    log_deviation: float
    weight: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShapeEquations:
    """Normal equations of all shapes at all knots; `places` (knots, SHAPES) per stop."""

    places: tuple[npt.NDArray[np.intp], ...]
    normal: FloatArray
    target: FloatArray
    misfit: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StopFit:
    """Misfit, and strengths [N/m at 10 mm] of the powers of each stop.

    `penalized` is the misfit with the price of unlikely rates at the touch points.
    """

    misfit: float
    penalized: float
    strengths: Mapping[int, FloatArray]


def shape_equations(equations: StopEquations) -> ShapeEquations:
    """Normal equations of powers of depth from those of hinges.

    Parameters
    ----------
    equations : StopEquations
        Those of hinges.
    """
    rows, places, at = [], [], 0
    for stop, knots in enumerate(equations.knots_m):
        shapes = _shapes_of_hinges(knots)
        whole = np.zeros((len(shapes), len(equations.target)))
        whole[:, equations.places(stop)] = shapes
        rows.append(whole)
        places.append(at + np.arange(len(shapes), dtype=np.intp).reshape(-1, SHAPES))
        at += len(shapes)
    every = np.concatenate(rows)
    return ShapeEquations(
        places=tuple(places),
        normal=every @ equations.normal @ every.T,
        target=every @ equations.target,
        misfit=equations.misfit,
    )


def _shapes_of_hinges(knots: FloatArray) -> FloatArray:
    """Hinges that sum up to each shape at each knot, shape (knots x SHAPES, 2 knots)."""
    count = len(knots)
    shapes = np.zeros((count, SHAPES, 2 * count))
    if count < 2:
        return shapes.reshape(count * SHAPES, 2 * count)
    step = knots[1] - knots[0]
    index = np.arange(count)
    past = index - index[:, None]
    for place, power in enumerate(_POWERS + _POWERS):
        # Slope over each step past the knot, so that the power is met at every knot.
        slope = np.where(past >= 0, (past + 1.0) ** power - np.maximum(past, 0.0) ** power, 0.0)
        hinges = np.diff(slope, axis=1, prepend=0.0) * (step / _DEPTH_SCALE_M) ** (power - 1)
        start = 0 if place < len(_POWERS) else count
        shapes[:, place, start : start + count] = hinges
    return shapes.reshape(count * SHAPES, 2 * count)


def fit_stops(
    equations: ShapeEquations, laws: Mapping[int, StopLaw], prior: RatePrior, *, passes: int = 3
) -> StopFit:
    """Best forces of stops that begin at given knots, none of them pulling.

    Parameters
    ----------
    equations : ShapeEquations
        From the log.
    laws : mapping
        Knot and loss of each stop that is there.
    prior : RatePrior
        What is believed of the rates at the touch points.
    passes : int
        Fits, each with the logarithm of the rates linearised where the last one left them [count].

    References
    ----------
    Lawson & Hanson, Solving Least Squares Problems, 1974, ch. 23 (scipy's).
    """
    from scipy.optimize import nnls

    if not laws:
        return StopFit(misfit=equations.misfit, penalized=equations.misfit, strengths={})
    powers = len(_POWERS)
    places = np.concatenate([equations.places[stop][law.knot] for stop, law in laws.items()])
    mix = np.zeros((powers * len(laws), len(places)))
    for number, law in enumerate(laws.values()):
        rows, start = slice(powers * number, powers * (number + 1)), SHAPES * number
        mix[rows, start : start + powers] = (1 - law.loss_share) * np.eye(powers)
        mix[rows, start + powers : start + SHAPES] = law.loss_share * np.eye(powers)
    normal = mix @ equations.normal[np.ix_(places, places)] @ mix.T
    target = mix @ equations.target[places]
    scale = 1 / np.sqrt(np.maximum(np.diag(normal), 1e-30))
    normal, target = normal * scale[:, None] * scale + 1e-9 * np.eye(len(scale)), target * scale
    first = powers * np.arange(len(laws))
    expected = prior.rates_n_per_m[list(laws)] / scale[first]
    rate = expected.copy()
    for _ in range(passes):
        slope = np.sqrt(prior.weight) / (rate * prior.log_deviation)
        wanted = rate * (1 - np.log(rate / expected))
        whole, right = normal.copy(), target.copy()
        whole[first, first] += slope**2
        right[first] += slope**2 * wanted
        root = np.linalg.cholesky(whole)
        strength, _ = nnls(root.T, np.linalg.solve(root, right))
        rate = np.clip(strength[first], expected / _MOST_RATE_RATIO, expected * _MOST_RATE_RATIO)
    misfit = float(equations.misfit - 2 * strength @ target + strength @ normal @ strength)
    price = prior.weight * float(np.sum(np.log(rate / expected) ** 2)) / prior.log_deviation**2
    by_stop = (strength * scale).reshape(-1, powers)
    return StopFit(
        misfit=misfit,
        penalized=misfit + price,
        strengths=dict(zip(laws, by_stop, strict=True)),
    )


def secant_rate(strengths: FloatArray, depth_m: float) -> float:
    """Force over depth of a stop pressed in slowly [N/m].

    Parameters
    ----------
    strengths : ndarray
        Strengths of the powers [N/m at 10 mm], shape (3,).
    depth_m : float
        Depth [m].
    """
    return float(strengths @ (depth_m / _DEPTH_SCALE_M) ** (np.array(_POWERS) - 1.0))
