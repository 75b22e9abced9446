"""Rows of the kinematic identity: residuals and derivatives, from gated spectra."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.lever import lever_matrix_of_car
from ridelog.estimate.balance.slow_forces import real_pairs
from ridelog.estimate.balance.transform import ComplexArray, Transform
from ridelog.recording import FloatArray

# Signals end below 33 Hz and a gate bends slowly: what a product of both holds above half of this
# rate is less than a millionth of it, and sampling it faster tells nothing more.
_LEAST_RATE_RATIO = 4.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IdentityBlock:
    """Spectra of one stretch: travel differentiated twice, hub, body; shape (12, f).

    `omega` [rad/s] goes from zero to where the spectra end, `band` is what counts, `step_hz` the
    distance of the bins; `gate` (n,) weighs the samples of `transform`.
    """

    spectra: ComplexArray
    omega: FloatArray
    band: slice
    step_hz: float
    transform: Transform
    gate: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IdentityRow:
    """Residual of one row (f,) and its derivatives (k, f) by the corrections at `places` (k,)."""

    residual: ComplexArray
    derivatives: ComplexArray
    places: tuple[int, ...]

    def add_to(self, normal: FloatArray, gradient: FloatArray, weight: FloatArray) -> None:
        """Add what the row tells to normal matrix and gradient, in place."""
        flat = real_pairs(self.derivatives * weight)
        # Real and imaginary parts each carry half of the power.
        normal[np.ix_(self.places, self.places)] += 2 * (flat @ flat.T)
        gradient[list(self.places)] += 2 * (flat @ real_pairs(self.residual * weight))


def gated_channels(
    block: IdentityBlock, corrections: FloatArray
) -> tuple[ComplexArray, ComplexArray]:
    """Corrected channels and their rates, gated and cut to the band, shape (12, f) each.

    Parameters
    ----------
    block : IdentityBlock
        The stretch.
    corrections : ndarray
        Log gains and delays [s] of the 12 channels, shape (24 or more,).
    """
    from scipy import fft

    highest_hz = float(block.omega[-1]) / (2 * np.pi)
    every = block.transform.thinning(_LEAST_RATE_RATIO * highest_hz)
    count = block.transform.padded_count // every
    thinned = block.gate[::every]
    turn = corrections[0:12, None] + 1j * block.omega * corrections[12:24, None]
    corrected = block.spectra * np.exp(turn)
    both = np.concatenate([corrected, 1j * block.omega * corrected])
    signals = fft.irfft(both, count)[:, : len(thinned)]
    signals *= thinned
    gated = fft.rfft(signals, count)[:, block.band]
    return gated[0:12], gated[12:24]


def identity_rows(
    block: IdentityBlock, car: Car, corrections: FloatArray, share: FloatArray
) -> list[IdentityRow]:
    """Rows of the four corners and of the rigid body at the current corrections.

    Parameters
    ----------
    block : IdentityBlock
        The stretch.
    car : Car
        Motion ratios, spacings, tracks.
    corrections : ndarray
        All 26 corrections, see `Calibration`.
    share : ndarray
        Share of hub minus body acceleration that is motion and not noise [-], shape (4, f).

    References
    ----------
    Derived here from rigid-body kinematics.
    """
    lever = lever_matrix_of_car(car) * np.repeat(np.exp(corrections[24:26]), 2)[:, None]
    value, rate = gated_channels(block, corrections)
    rows = [
        _corner_row(value, rate, lever[corner], corrections, corner, share[corner])
        for corner in range(4)
    ]
    return [*rows, _twist_row(value[8:12], rate[8:12], car, corrections)]


def _corner_row(
    value: ComplexArray,
    rate: ComplexArray,
    lever: FloatArray,
    corrections: FloatArray,
    corner: int,
    share: FloatArray,
) -> IdentityRow:
    """Travel against lever times hub minus body; the first derivative is by travel gain."""
    scale = float(np.exp(-corrections[corner]))
    wheels = [int(wheel) for wheel in np.flatnonzero(lever)]
    modelled = np.zeros_like(value[0])
    derivatives = [modelled, rate[corner] * scale]
    places = [corner, 12 + corner]
    for wheel in wheels:
        factor = lever[wheel] * scale * share
        modelled += factor * (value[4 + wheel] - value[8 + wheel])
        derivatives += [
            -factor * value[4 + wheel],
            -factor * rate[4 + wheel],
            factor * value[8 + wheel],
            factor * rate[8 + wheel],
        ]
        places += [4 + wheel, 16 + wheel, 8 + wheel, 20 + wheel]
    return IdentityRow(
        residual=value[corner] * scale - modelled,
        derivatives=np.stack([*derivatives, -modelled]),
        places=(*places, 24 + corner // 2),
    )


def _twist_row(
    body: ComplexArray, rate: ComplexArray, car: Car, corrections: FloatArray
) -> IdentityRow:
    """Four corners of a rigid body lie in one plane."""
    twist = np.array([1, -1, -1, 1]) / np.repeat([car.front.track_m, car.rear.track_m], 2)
    scaled = np.exp(-np.mean(corrections[8:12])) * twist
    residual = scaled @ body
    gains = scaled[:, None] * body - residual / 4
    return IdentityRow(
        residual=residual,
        derivatives=np.concatenate([gains, scaled[:, None] * rate]),
        places=(*range(8, 12), *range(20, 24)),
    )
