"""Maximum a posteriori fit of a two-channel spectral matrix (Whittle likelihood)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ridelog.estimate.spectra import ComplexArray
from ridelog.recording import FloatArray

SpectralModel = Callable[[FloatArray], FloatArray]
"""Parameters (k, p) -> packed spectra (k, pairs, 4, bins): S11, S22, Re S12, Im S12."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prior:
    """Independent normal priors, shape (p,) each."""

    mean: FloatArray
    sd: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WhittleFit:
    """Where the fit came to rest: parameters, their covariance, and the cost there."""

    parameters: FloatArray
    covariance: FloatArray
    cost: float


def pack(matrix: ComplexArray) -> FloatArray:
    """Hermitian 2 x 2 matrices (bins, 2, 2) as real rows, shape (4, bins)."""
    return np.stack(
        [
            matrix[:, 0, 0].real,
            matrix[:, 1, 1].real,
            matrix[:, 0, 1].real,
            matrix[:, 0, 1].imag,
        ]
    )


def whittle_cost(model: FloatArray, data: FloatArray, weight: FloatArray) -> FloatArray:
    """Weighted sum of ln det S + trace(S^-1 data) over pairs and bins.

    Parameters
    ----------
    model : FloatArray
        Packed model spectra, shape (..., pairs, 4, bins).
    data : FloatArray
        Packed measured spectra, shape (pairs, 4, bins).
    weight : FloatArray
        Independent readings behind each bin, broadcasting against (pairs, bins).

    References
    ----------
    Whittle, The analysis of multiple stationary time series, J. R. Stat. Soc. B 15, 1953.
    """
    m11, m22, real, imag = np.moveaxis(model, -2, 0)
    d11, d22, d_real, d_imag = np.moveaxis(data, -2, 0)
    determinant = m11 * m22 - real**2 - imag**2
    trace = (m22 * d11 + m11 * d22 - 2 * (real * d_real + imag * d_imag)) / determinant
    return np.asarray((weight * (np.log(determinant) + trace)).sum(axis=(-2, -1)))


def _inverse(packed: FloatArray) -> FloatArray:
    m11, m22, real, imag = np.moveaxis(packed, -2, 0)
    determinant = m11 * m22 - real**2 - imag**2
    return np.asarray(np.stack([m22, m11, -real, -imag], axis=-2) / determinant[..., None, :])


def _score_and_information(
    model: FloatArray, slopes: FloatArray, data: FloatArray, weight: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Gradient of the cost and expected Hessian (Fisher information)."""
    inverse = _inverse(model)
    double = np.array([1.0, 1.0, 2.0, 2.0])[:, None]
    middle = _sandwich(inverse, model - data)
    scaled = weight[..., None, :] * double
    gradient = np.einsum("kpcf,pcf->k", slopes, scaled * middle)
    turned = _sandwich(inverse, slopes)
    flat = slopes.reshape(len(slopes), -1)
    information = flat @ (turned * scaled).reshape(len(slopes), -1).T
    return gradient, np.asarray(information)


def _sandwich(inverse: FloatArray, inner: FloatArray) -> FloatArray:
    """Packed S^-1 X S^-1 for packed Hermitian S^-1 and X."""
    a, d, p, q = np.moveaxis(inverse, -2, 0)
    x, z, u, v = np.moveaxis(inner, -2, 0)
    b = p + 1j * q
    y = u + 1j * v
    cross = 2 * (b * y.conj()).real
    first = a**2 * x + a * cross + (p**2 + q**2) * z
    second = d**2 * z + d * cross + (p**2 + q**2) * x
    off = a * x * b + a * d * y + b * b * y.conj() + b * d * z
    return np.stack([first, second, off.real, off.imag], axis=-2)


def fit_whittle(
    model: SpectralModel,
    data: FloatArray,
    weight: FloatArray,
    prior: Prior,
    start: FloatArray,
    *,
    max_iterations: int = 20,
    tolerance: float = 0.02,
) -> WhittleFit:
    """Fisher scoring with a damped step, slopes by one batch of finite differences.

    Parameters
    ----------
    model : SpectralModel
        Maps a batch of parameter vectors to packed spectra.
    data : FloatArray
        Packed measured spectra, shape (pairs, 4, bins).
    weight : FloatArray
        Independent readings behind each bin, shape (pairs, bins).
    prior : Prior
        Normal priors; their standard deviation also scales the difference step.
    start : FloatArray
        First guess, shape (p,).
    max_iterations : int
        Bound on the number of steps [1].
    tolerance : float
        Stop when a step lowers the cost (a log likelihood) by less than this [1].

    References
    ----------
    Whittle 1953 (see `whittle_cost`); scoring and damping: Nocedal & Wright, Numerical
    Optimization, ch. 10.
    """
    step_size = 1e-4 * np.minimum(prior.sd, 1.0)
    here = _Point(start.copy(), model(start[None])[0], data, weight, prior)
    damping = 1e-2
    for _ in range(max_iterations):
        gradient, hessian = _derivatives(model, here, data, weight, prior, step_size)
        moved, damping = _damped_step(
            model, here, gradient, hessian, damping, data=data, weight=weight, prior=prior
        )
        gain = here.cost - moved.cost
        here = moved
        if gain < tolerance:
            break
    return WhittleFit(parameters=here.theta, covariance=_inverted(hessian), cost=here.cost)


class _Point:
    """Parameters with their model spectra and cost."""

    __slots__ = ("cost", "spectra", "theta")

    def __init__(
        self,
        theta: FloatArray,
        spectra: FloatArray,
        data: FloatArray,
        weight: FloatArray,
        prior: Prior,
    ) -> None:
        self.theta = theta
        self.spectra = spectra
        self.cost = _total(spectra, data, weight, prior, theta)


def _derivatives(
    model: SpectralModel,
    here: _Point,
    data: FloatArray,
    weight: FloatArray,
    prior: Prior,
    step_size: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Gradient and expected Hessian of cost plus prior."""
    batch = model(here.theta + np.diag(step_size))
    slopes = (batch - here.spectra) / step_size[:, None, None, None]
    gradient, information = _score_and_information(here.spectra, slopes, data, weight)
    gradient = gradient + (here.theta - prior.mean) / prior.sd**2
    return gradient, information + np.diag(prior.sd**-2)


def _damped_step(
    model: SpectralModel,
    here: _Point,
    gradient: FloatArray,
    hessian: FloatArray,
    damping: float,
    *,
    data: FloatArray,
    weight: FloatArray,
    prior: Prior,
) -> tuple[_Point, float]:
    """Shorten the step until it lowers the cost; stay where no step does."""
    for _ in range(8):
        damped = hessian + damping * np.diag(np.diag(hessian))
        move = -_inverted(damped) @ gradient
        move = move / max(1.0, float(np.max(np.abs(move) / (1.5 * prior.sd))))
        theta = here.theta + move
        trial = _Point(theta, model(theta[None])[0], data, weight, prior)
        if trial.cost < here.cost:
            return trial, max(damping / 5, 1e-6)
        damping = damping * 6
    return here, damping


def _inverted(hessian: FloatArray) -> FloatArray:
    """Inverse by way of a unit diagonal: parameters differ by many powers of ten."""
    scale = np.sqrt(np.diag(hessian))
    return np.asarray(np.linalg.inv(hessian / np.outer(scale, scale)) / np.outer(scale, scale))


def _total(
    spectra: FloatArray, data: FloatArray, weight: FloatArray, prior: Prior, theta: FloatArray
) -> float:
    penalty = 0.5 * np.sum(((theta - prior.mean) / prior.sd) ** 2)
    cost = float(whittle_cost(spectra, data, weight) + penalty)
    return cost if np.isfinite(cost) else np.inf
