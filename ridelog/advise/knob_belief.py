"""What the drives so far say about a damper's knob: the prior conditioned on every reading."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.advise.knob_prior import (
    KnobPrior,
    LawParticles,
    draw_particles,
    law_log_gain,
    level_mean,
)
from ridelog.recording import BoolArray, FloatArray

NEGLIGIBLE_WEIGHT = 1e-4
"""Laws this much less likely than the likeliest are dropped: 256 of them weigh below 3 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnobReading:
    """Damping of one axle (or of one side of its strokes) in one run, at known knobs.

    Knob positions are shares of the full travel from full soft, left and right. `sd` is the run's
    own relative standard deviation, `bias_sd` the part shared by all runs measured by `method`,
    `carry_sd` the part shared by all runs on the springs called `springs` because the damping
    coefficient had to be carried over to the springs of today (0 for today's).
    """

    knob: tuple[float, float]
    log_damping_ratio: float
    sd: float
    bias_sd: float
    method: str = ""
    springs: str = ""
    carry_sd: float = 0.0
    other_knob: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """Which strokes a knob rules: prior offset of their log level, its spread, and the cross term.

    The default is one knob for both.
    """

    level_offset: float = 0.0
    level_extra_sd: float = 0.0
    has_other_knob: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnobBelief:
    """Log damping ratio at m knob positions: a mixture of n normal distributions.

    `mean` (n, m) and `sd` (m,) describe the true damping ratio; `measured_mean` and `measured_sd`
    what the next drive by the latest method would read, its own noise included. `half_mean` and
    `half_sd` describe the mean of the position and position `now` (where `now` was given).
    """

    weight: FloatArray
    mean: FloatArray
    sd: FloatArray
    measured_mean: FloatArray
    measured_sd: FloatArray
    half_mean: FloatArray
    half_sd: FloatArray
    misfit: float


def believe(
    readings: tuple[KnobReading, ...],
    candidates: FloatArray,
    now: FloatArray | None = None,
    *,
    side: Side | None = None,
    prior: KnobPrior | None = None,
) -> KnobBelief:
    """Tell what damping each knob position gives, from all readings and the prior.

    Parameters
    ----------
    readings : tuple of KnobReading
        At least one, oldest first.
    candidates : ndarray, shape (m, 2)
        Positions asked about [1]: own knob and other knob, shares of full travel from full soft.
    now : ndarray, shape (2, 2), optional
        The knobs of today [1], left and right; the first candidate where left out.
    side : Side, optional
        Which strokes the knob rules.
    prior : KnobPrior, optional
        Belief before the first drive.

    Returns
    -------
    KnobBelief
        Mixture over the laws, in logs of the damping ratio with the springs of today.

    Raises
    ------
    ValueError
        Without readings.

    Notes
    -----
    log damping = level + law(knob) + smooth wiggle + detent scatter. Given a law all of it is
    normal, with a covariance that is the same for every law, so conditioning is one small linear
    solve. Where the readings fit no law the spreads are widened by their misfit.

    Left and right at different clicks: the axle shows the mean of two coefficients, in logs the
    mean of the logs plus d^2 / 8 for a difference d (second order of log cosh(d/2)).

    References
    ----------
    Rasmussen & Williams, Gaussian Processes for Machine Learning, MIT Press 2006, eq. 2.22-2.24
    and 2.30, from memory; the mixture over laws is importance sampling from the prior.
    """
    if not readings:
        raise ValueError("believe needs at least one reading")
    known = _condition(prior or KnobPrior(), side or Side(), readings)
    today = np.repeat(candidates[:1], 2, axis=0) if now is None else now
    asked = np.stack([candidates, candidates], axis=1)
    half = np.concatenate([asked[:, :1], np.broadcast_to(today.mean(0), asked[:, :1].shape)], 1)
    latest, unshared = readings[-1], np.zeros(len(readings))
    mean, sd = _posterior(known, asked, unshared, 0.0)
    measured_mean, measured_sd = _posterior(
        known, asked, _shared_bias(readings), latest.bias_sd**2 + latest.sd**2
    )
    half_mean, half_sd = _posterior(known, half, unshared, 0.0)
    return KnobBelief(
        weight=known.weight,
        mean=mean,
        sd=sd,
        measured_mean=measured_mean,
        measured_sd=measured_sd,
        half_mean=half_mean,
        half_sd=half_sd,
        misfit=known.misfit,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Conditioned:
    """The laws left over by the readings: weights, residuals and the readings' inverse covariance.

    `seen` holds the readings' positions, `misfit` the best law's squared misfit per reading.
    """

    prior: KnobPrior
    side: Side
    particles: LawParticles
    seen: FloatArray
    weight: FloatArray
    residual: FloatArray
    inverse: FloatArray
    misfit: float


def _condition(prior: KnobPrior, side: Side, readings: tuple[KnobReading, ...]) -> _Conditioned:
    """Weigh every law by how well it explains the readings; drop those that hardly do."""
    particles = draw_particles(prior)
    seen = np.array([np.column_stack([r.knob, r.other_knob]) for r in readings])
    values = np.array([r.log_damping_ratio for r in readings])
    noise = _noise_covariance(readings)
    inverse = np.linalg.inv(_covariance(prior, side, seen, seen) + noise)
    residual = values - _expected(prior, side, particles, seen)
    misfit = np.einsum("pi,ij,pj->p", residual, inverse, residual)
    weight = np.exp(-0.5 * (misfit - misfit.min()))
    alive = weight > NEGLIGIBLE_WEIGHT
    return _Conditioned(
        prior=prior,
        side=side,
        particles=_only(particles, alive),
        seen=seen,
        weight=weight[alive] / weight[alive].sum(),
        residual=residual[alive],
        inverse=np.asarray(inverse),
        misfit=float(misfit.min() / len(values)),
    )


def _posterior(
    known: _Conditioned, points: FloatArray, shared: FloatArray, extra: float
) -> tuple[FloatArray, FloatArray]:
    """Mean for each law and standard deviation at pairs of positions.

    `shared` is a covariance with every reading and `extra` a variance besides those of the law.
    """
    cross = _covariance(known.prior, known.side, points, known.seen) + shared
    gain = cross @ known.inverse
    mean = _expected(known.prior, known.side, known.particles, points) + known.residual @ gain.T
    variance = _own_variance(known.prior, known.side, points) + extra - np.sum(gain * cross, axis=1)
    # Readings that fit no law show that the prior is too sure of itself (Birge ratio).
    doubt = max(known.misfit, 1.0) ** 0.5
    return mean, np.asarray(doubt * np.sqrt(np.maximum(variance, 1e-12)))


def _only(particles: LawParticles, alive: BoolArray) -> LawParticles:
    """Keep some of the laws."""
    return LawParticles(
        family=particles.family[alive],
        log_range=particles.log_range[alive],
        exponent=particles.exponent[alive],
        dead_soft=particles.dead_soft[alive],
        dead_stiff=particles.dead_stiff[alive],
        level=particles.level[alive],
        stretch=particles.stretch[alive],
    )


def _expected(
    prior: KnobPrior, side: Side, particles: LawParticles, points: FloatArray
) -> FloatArray:
    """Prior mean at pairs of positions (k, 2 sides, 2 knobs) for each law, shape (n, k)."""
    # Pairs of two knobs repeat the same few own positions.
    position, where = np.unique(points[:, :, 0], return_inverse=True)
    gain = law_log_gain(particles, position, prior.sheet)[:, where.reshape(-1, 2)]
    left, right = gain[:, :, 0], gain[:, :, 1]
    level = level_mean(prior, particles, side.level_offset)[:, None]
    other = prior.cross_mean * points[:, :, 1].mean(1) if side.has_other_knob else 0.0
    return np.asarray(level + (left + right) / 2 + (left - right) ** 2 / 8 + other)


def _covariance(prior: KnobPrior, side: Side, a: FloatArray, b: FloatArray) -> FloatArray:
    """Covariance of the mean of left and right between pairs of positions, shape (k, j)."""
    own = a[:, None, :, None, 0] - b[None, :, None, :, 0]
    wiggle = prior.wiggle_sd**2 * np.exp(-0.5 * (own / prior.wiggle_length) ** 2)
    detent = prior.click_sd**2 * (np.abs(own) < 1e-9)
    level = prior.level_sd**2 + side.level_extra_sd**2
    total = np.mean(wiggle + detent, axis=(2, 3)) + level
    if side.has_other_knob:
        total = total + prior.cross_sd**2 * np.outer(a[:, :, 1].mean(1), b[:, :, 1].mean(1))
    return np.asarray(total)


def _own_variance(prior: KnobPrior, side: Side, points: FloatArray) -> FloatArray:
    """Prior variance at each pair of positions, shape (k,)."""
    own = points[:, :, None, 0] - points[:, None, :, 0]
    wiggle = prior.wiggle_sd**2 * np.exp(-0.5 * (own / prior.wiggle_length) ** 2)
    detent = prior.click_sd**2 * (np.abs(own) < 1e-9)
    total = np.mean(wiggle + detent, axis=(1, 2)) + prior.level_sd**2 + side.level_extra_sd**2
    if side.has_other_knob:
        total = total + (prior.cross_sd * points[:, :, 1].mean(1)) ** 2
    return np.asarray(total)


def _noise_covariance(readings: tuple[KnobReading, ...]) -> FloatArray:
    """Noise of each run, plus what runs of one method and what runs on one spring share."""
    total = np.diag([r.sd**2 for r in readings])
    for i, a in enumerate(readings):
        for j, b in enumerate(readings):
            total[i, j] += a.bias_sd * b.bias_sd * (a.method == b.method)
            total[i, j] += a.carry_sd * b.carry_sd * (a.springs == b.springs)
    return np.asarray(total)


def _shared_bias(readings: tuple[KnobReading, ...]) -> FloatArray:
    """Covariance of the latest method's bias with every reading, shape (n,)."""
    latest = readings[-1]
    return np.array([latest.bias_sd * r.bias_sd * (r.method == latest.method) for r in readings])
