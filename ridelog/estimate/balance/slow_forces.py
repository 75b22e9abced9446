"""Slow forces that no spring or damper explains, and what gating smears of them into the band.

Offsets, tilt, braking and cornering push the body below the band. A gate with holes in it lifts
them into the band, where they look like a damper that differs between bump and rebound. They are
unknowns of their own here, so that they take nothing from the car.
"""

from __future__ import annotations

import numpy as np

from ridelog.estimate.balance.transform import ComplexArray, Transform
from ridelog.recording import FloatArray

# A gate with ramps of a tenth of a second lifts nothing that matters above this.
_HIGHEST_SMEARED_HZ = 10.0
# What such a gate holds above half of the thinned rate is no matter.
_LEAST_RATE_RATIO = 8.0
# Below this share of full weight a gate has a hole.
_HOLE = 0.5


def slow_force_columns(
    gate: FloatArray, inside: slice, transform: Transform, band: slice, limit_hz: float
) -> ComplexArray | None:
    """Spectra of gated slow cosines in the low bins of the band; None without holes.

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

    Returns
    -------
    ndarray or None
        Shape (cosines, low bins): bins from the foot of the band to where a gate smears nothing.
    """
    if not np.any(gate[inside] < _HOLE):
        return None
    from scipy import fft

    count = int(2 * limit_hz * transform.sample_count / transform.sample_rate_hz) + 1
    top = min(band.stop, transform.band(0.0, _HIGHEST_SMEARED_HZ).stop)
    every = transform.thinning(_LEAST_RATE_RATIO * float(transform.frequency_hz[top - 1]))
    phase = np.pi * (np.arange(0, transform.sample_count, every) + 0.5) / transform.sample_count
    rows = np.empty((count, len(phase)))
    rows[0], twice = gate[::every], 2 * np.cos(phase)
    rows[1:2] = 0.5 * twice * rows[0]
    for k in range(2, count):  # cos k p = 2 cos p cos (k - 1) p - cos (k - 2) p
        rows[k] = twice * rows[k - 1] - rows[k - 2]
    spectra = fft.rfft(rows, transform.padded_count // every)[:, band.start : top]
    return np.asarray(every * spectra)


def taken_by_slow(slow: FloatArray, columns: FloatArray) -> FloatArray:
    """How much of whitened columns slow forces take up, by direction, shape (k, columns).

    Parameters
    ----------
    slow : ndarray
        Whitened slow forces of one standard deviation [-], shape (k, 2 f).
    columns : ndarray
        Columns of the whitened design or target [mixed], shape (2 f, columns).

    Notes
    -----
    With the result S of a design D, unknown slow forces of unit variance are integrated out of
    normal equations D'D by D'D - S'S.

    References
    ----------
    Matrix inversion lemma; C. E. Rasmussen & C. K. I. Williams, Gaussian Processes for Machine
    Learning, 2006, appendix A.3; cited from memory.
    """
    factor = np.linalg.cholesky(np.eye(len(slow)) + slow @ slow.T)
    return np.asarray(np.linalg.solve(factor, slow @ columns))


def without_slow(
    residual: ComplexArray, slow: ComplexArray, deviation: FloatArray, noise_power: float
) -> ComplexArray:
    """Residual of all rows less the slow forces that fit each best, shape (rows, f).

    Parameters
    ----------
    residual : ndarray
        Spectra of what is unexplained [N], shape (rows, f).
    slow : ndarray
        Spectra of slow forces of 1 N in the lowest bins, shape (k, low bins).
    deviation : ndarray
        Standard deviation of the slow forces in each row [N], shape (rows,).
    noise_power : float
        Power of the rest in each bin [N2].
    """
    pairs, low = real_pairs(slow), slow.shape[1]
    gram, found = pairs @ pairs.T, pairs @ real_pairs(residual[:, :low]).T
    # Either part of a bin carries half of its power.
    relative = deviation**2 * 2 / noise_power
    share = [
        np.linalg.solve(np.eye(len(slow)) + ratio * gram, ratio * row)
        for ratio, row in zip(relative, found.T, strict=True)
    ]
    left = residual.copy()
    left[:, :low] -= np.array(share) @ slow
    return left


def real_pairs(spectra: ComplexArray) -> FloatArray:
    """Real and imaginary parts side by side along the last axis, shape (..., 2 f).

    Parameters
    ----------
    spectra : ndarray
        Spectra [any unit], shape (..., f).
    """
    return np.concatenate([spectra.real, spectra.imag], axis=-1)
