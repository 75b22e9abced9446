"""Slow forces that no spring or damper explains, and what gating smears of them into the band.

Offsets, tilt, braking and cornering push the body below the band. A gate with holes in it lifts
them into the band, where they look like a damper that differs between bump and rebound. They are
unknowns of their own here, so that they take nothing from the car.
"""

from __future__ import annotations

import numpy as np

from ridelog.estimate.balance.transform import ComplexArray, Transform
from ridelog.recording import FloatArray

# Below this share of full weight a gate has a hole.
_HOLE = 0.5


def slow_force_columns(
    gate: FloatArray, inside: slice, transform: Transform, band: slice, limit_hz: float
) -> ComplexArray | None:
    """Spectra of gated slow cosines in the band, shape (cosines, f); None without holes.

    Parameters
    ----------
    gate : ndarray
        Weight of each sample [-], shape (n,).
    inside : slice
        Samples away from the tapered ends.
    transform : Transform
        Transform of the stretch.
    band : slice
        Bins that count.
    limit_hz : float
        Highest frequency of the slow forces [Hz].
    """
    if not np.any(gate[inside] < _HOLE):
        return None
    count = int(2 * limit_hz * transform.sample_count / transform.sample_rate_hz) + 1
    phase = np.pi * (np.arange(transform.sample_count) + 0.5) / transform.sample_count
    return np.stack([transform.forward(gate * np.cos(k * phase))[band] for k in range(count)])


def slow_directions(slow: ComplexArray, weight: FloatArray) -> FloatArray:
    """Directions in whitened data that slow forces take up, scaled by how far, shape (2 f, k).

    Parameters
    ----------
    slow : ndarray
        Spectra of slow forces of one standard deviation [N], shape (k, f).
    weight : ndarray
        Whitening weight of each bin [1/N], shape (f,).

    Notes
    -----
    With the directions B, unknown slow forces of unit variance are integrated out of normal
    equations D'D by D'D - (D'B)(D'B)'.

    References
    ----------
    Matrix inversion lemma; C. E. Rasmussen & C. K. I. Williams, Gaussian Processes for Machine
    Learning, 2006, appendix A.3; cited from memory.
    """
    columns = real_pairs(slow * weight).T
    factor = np.linalg.cholesky(np.eye(columns.shape[1]) + columns.T @ columns)
    return np.asarray(np.linalg.solve(factor, columns.T).T)


def without_slow(residual: ComplexArray, slow: ComplexArray, weight: FloatArray) -> ComplexArray:
    """Residual of one row less the slow forces that fit it best, shape (f,).

    Parameters
    ----------
    residual : ndarray
        Spectrum of what is unexplained [N], shape (f,).
    slow : ndarray
        Spectra of slow forces of one standard deviation [N], shape (k, f).
    weight : ndarray
        Whitening weight of each bin [1/N], shape (f,).
    """
    columns = real_pairs(slow * weight).T
    matrix = np.eye(columns.shape[1]) + columns.T @ columns
    share = np.linalg.solve(matrix, columns.T @ real_pairs(residual * weight))
    return np.asarray(residual - share @ slow)


def real_pairs(spectra: ComplexArray) -> FloatArray:
    """Real and imaginary parts side by side along the last axis, shape (..., 2 f).

    Parameters
    ----------
    spectra : ndarray
        Spectra [any unit], shape (..., f).
    """
    return np.concatenate([spectra.real, spectra.imag], axis=-1)
