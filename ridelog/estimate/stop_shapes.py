"""Forces of a stop that begins at a given knot, as sums of hinges; fits without negative parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ridelog.estimate.stop_windows import StopEquations
from ridelog.recording import FloatArray

# Powers of the depth of plain and of lossy forces; rubber rises straight at first, then steeply.
_PLAIN_POWERS = (1, 2, 3)
_LOSSY_POWERS = (1, 3)
SHAPES = len(_PLAIN_POWERS) + len(_LOSSY_POWERS)
_DEPTH_SCALE_M = 0.01


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShapeEquations:
    """Normal equations of all shapes at all knots; `places` (knots, SHAPES) per stop."""

    places: tuple[npt.NDArray[np.intp], ...]
    normal: FloatArray
    target: FloatArray
    misfit: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StopFit:
    """Misfit, and strengths [N/m at 10 mm] of the shapes of each stop."""

    misfit: float
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
    for place, power in enumerate(_PLAIN_POWERS + _LOSSY_POWERS):
        # Slope over each step past the knot, so that the power is met at every knot.
        slope = np.where(past >= 0, (past + 1.0) ** power - np.maximum(past, 0.0) ** power, 0.0)
        hinges = np.diff(slope, axis=1, prepend=0.0) * (step / _DEPTH_SCALE_M) ** (power - 1)
        start = 0 if place < len(_PLAIN_POWERS) else count
        shapes[:, place, start : start + count] = hinges
    return shapes.reshape(count * SHAPES, 2 * count)


def fit_stops(equations: ShapeEquations, knots: Mapping[int, int]) -> StopFit:
    """Best forces of stops that begin at given knots, none of them pulling.

    Parameters
    ----------
    equations : ShapeEquations
        From the log.
    knots : mapping
        Place of the knot of each stop that is there [count].

    References
    ----------
    Lawson & Hanson, Solving Least Squares Problems, 1974, ch. 23 (scipy's).
    """
    from scipy.optimize import nnls

    if not knots:
        return StopFit(misfit=equations.misfit, strengths={})
    places = np.concatenate([equations.places[stop][knot] for stop, knot in knots.items()])
    normal, target = equations.normal[np.ix_(places, places)], equations.target[places]
    scale = 1 / np.sqrt(np.maximum(np.diag(normal), 1e-30))
    scaled = normal * scale[:, None] * scale + 1e-9 * np.eye(len(places))
    root = np.linalg.cholesky(scaled)
    strength, _ = nnls(root.T, np.linalg.solve(root, target * scale))
    misfit = equations.misfit - 2 * strength @ (target * scale) + strength @ scaled @ strength
    by_stop = (strength * scale).reshape(-1, SHAPES)
    return StopFit(misfit=float(misfit), strengths=dict(zip(knots, by_stop, strict=True)))


def secant_rate(strengths: FloatArray, depth_m: float) -> float:
    """Force over depth of a stop pressed in slowly [N/m].

    Parameters
    ----------
    strengths : ndarray
        Strengths of the shapes [N/m at 10 mm], shape (SHAPES,).
    depth_m : float
        Depth [m].
    """
    powers = np.array(_PLAIN_POWERS + _LOSSY_POWERS)
    return float(strengths @ (depth_m / _DEPTH_SCALE_M) ** (powers - 1.0))
