"""From the damping a spectrum shows to the damping the contract defines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.recording import FloatArray

SECANT_SPEED_M_PER_S = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class DamperLawPrior:
    """What dampers and their friction are like when the log cannot say.

    Common practice, no source. Knees lie between `knee_m_per_s`, log-uniform; past the knee the
    slope is `late_slope` (low, high) of the first slope, uniform. Friction at the damper is
    log-normal about `friction_median_n`; `friction_log_sd` spans worn bushes and greasy joints.
    """

    knee_m_per_s: tuple[float, float] = (0.05, 0.30)
    late_slope: tuple[float, float] = (0.28, 1.05)
    friction_median_n: float = 22.0
    friction_log_sd: float = 0.65
    friction_width_m_per_s: float = 0.005
    samples: int = 512


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRatio:
    """Logarithm of effective over secant damping: mean and standard deviation."""

    mean: float
    sd: float


def effective_over_secant(
    effective_n_s_per_m: float, speed_rms_m_per_s: float, prior: DamperLawPrior
) -> LogRatio:
    """How much more (or less) damping a random drive shows than the secant at 0.05 m/s.

    Parameters
    ----------
    effective_n_s_per_m : float
        Damping at the damper that fits the spectra, friction included [N s/m].
    speed_rms_m_per_s : float
        Root mean square damper speed of the drive [m/s].
    prior : DamperLawPrior
        The family of laws to average over.

    Notes
    -----
    For Gaussian motion the best linear stand-in of a force F(v) has the slope
    E[v F(v)] / E[v^2]; dry friction F adds sqrt(2/pi) F / rms. The laws of the prior are averaged
    by a fixed low-discrepancy sample, each weighted alike. A spectrum hardly tells one law from
    another, so the spread of the ratio belongs into the interval.

    References
    ----------
    Roberts & Spanos, Random Vibration and Statistical Linearization, 1990, ch. 5 (equivalent
    slope); the prior's ranges: common practice, no source.
    """
    knee, late, friction = sampled_laws(prior)
    nodes, weights = np.polynomial.hermite_e.hermegauss(40)
    speed = np.abs(nodes)[None, :] * speed_rms_m_per_s
    weights = weights / weights.sum()
    power = (softened(speed, knee, late) * speed) @ weights / speed_rms_m_per_s**2
    secant = softened(np.array([[SECANT_SPEED_M_PER_S]]), knee, late)[:, 0]
    curve = power * SECANT_SPEED_M_PER_S / secant
    rubbing = (
        np.sqrt(2 / np.pi) * friction / np.hypot(speed_rms_m_per_s, prior.friction_width_m_per_s)
    )
    share = np.clip(rubbing / effective_n_s_per_m, 0.0, 0.6)
    ratio = np.log(curve) - np.log1p(-share)
    return LogRatio(mean=float(ratio.mean()), sd=float(ratio.std()))


def sampled_laws(prior: DamperLawPrior) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Laws of the family, evenly spread.

    Parameters
    ----------
    prior : DamperLawPrior
        The family.

    Returns
    -------
    tuple of ndarray
        Knee [m/s] and late slope [-], shape (samples, 1), and friction [N], shape (samples,).
    """
    from scipy.special import ndtri

    # Additive recurrence by the plastic number's three-dimensional kin: evenly spread, no seed.
    root = 1.2207440846057596
    u = (0.5 + np.outer(np.arange(1, prior.samples + 1), root ** -np.arange(1.0, 4.0))) % 1
    low, high = prior.knee_m_per_s
    knee = low * (high / low) ** u[:, :1]
    late = prior.late_slope[0] + (prior.late_slope[1] - prior.late_slope[0]) * u[:, 1:2]
    friction = prior.friction_median_n * np.exp(prior.friction_log_sd * ndtri(u[:, 2]))
    return knee, late, np.asarray(friction)


def softened(speed: FloatArray, knee: FloatArray, late: FloatArray) -> FloatArray:
    """Shape of a damper force: slope 1 up to the knee, `late` after it, half of them rounded.

    Parameters
    ----------
    speed : ndarray
        Damper speed, not negative [m/s], shape (laws or 1, speeds).
    knee, late : ndarray
        As `sampled_laws` gives them.

    Returns
    -------
    ndarray
        Force over the slope at the start [m/s], shape (laws, speeds).
    """
    sharp = np.minimum(speed, knee) + late * np.maximum(speed - knee, 0.0)
    rounded = late * speed + (1 - late) * knee * np.arctan(speed / knee)
    every_other = (np.arange(len(knee)) % 2 == 0)[:, None]
    return np.where(every_other, sharp, rounded)
