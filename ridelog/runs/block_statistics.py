"""Is a difference between two drives more than chance? Correlated blocks, few of them."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, hypot, log, sqrt

import numpy as np

from ridelog.estimate.result import Estimate
from ridelog.recording import FloatArray
from ridelog.runs.repeatability import own_log_sd

NINE_IN_TEN = 1.28
"""Normal 90 % point: what is found nine times out of ten lies that much beyond the limit."""

DETECTION_FACTOR = 1.96 + NINE_IN_TEN
"""Smallest change found nine times out of ten over its standard error, many blocks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockSettings:
    """How blocks of a drive hang together; from simulated drives unless said.

    `run_to_run_sd` is how far two drives of an unchanged car differ (relative): damper temperature,
    wind, driver; common practice, no source. Neighbouring blocks are correlated: the estimate from
    few blocks is drawn towards `prior_correlation` as if `prior_blocks` had shown that.
    `frequency_run_sd` is the same for frequencies: a percent of load is half a percent.
    """

    block_s: float = 10.0
    run_to_run_sd: float = 0.02
    frequency_run_sd: float = 0.005
    prior_correlation: float = 0.3
    prior_blocks: float = 12.0
    highest_correlation: float = 0.9
    fewest_blocks: int = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class LogChange:
    """Change of a logarithm from the first run to the second.

    `own_sd` is the part of `sd` that longer drives shrink, `freedom` the degrees of freedom behind
    it (infinite where the estimates carried their own).
    """

    change: float
    sd: float
    own_sd: float
    freedom: float = float("inf")

    @property
    def half_width(self) -> float:
        """95 % half-width of the change."""
        return student_95(self.freedom) * self.sd

    @property
    def proven(self) -> bool:
        """Whether the change is more than chance at the 5 % level."""
        return abs(self.change) > self.half_width

    @property
    def smallest_detectable(self) -> float:
        """Smallest relative change that such drives would show nine times out of ten."""
        return exp((student_95(self.freedom) + NINE_IN_TEN) * self.sd) - 1

    def as_ratio(self) -> Estimate:
        """Second over first with its 95 % interval [1]."""
        return Estimate(
            value=exp(self.change),
            low=exp(self.change - self.half_width),
            high=exp(self.change + self.half_width),
        )


def paired_change(
    first: FloatArray, second: FloatArray, settings: BlockSettings | None = None
) -> LogChange:
    """Change between two drives of the same stretch, block by block.

    Parameters
    ----------
    first, second : ndarray, shape (n,)
        Positive values of blocks [any unit] at the same places, in order of place.
    settings : BlockSettings, optional
        How blocks hang together.

    Returns
    -------
    LogChange
        Mean of the log ratios, with its standard deviation.

    Raises
    ------
    ValueError
        Fewer than two blocks, or unequal numbers.

    Notes
    -----
    Pairing removes what the road does. What is left is correlated from block to block as a
    first-order autoregression, which widens the standard error, and differs from run to run.

    References
    ----------
    Box, Jenkins & Reinsel, Time Series Analysis, ch. 2 (variance of the mean of correlated
    values), from memory; small-sample correction of the correlation after Kendall, from memory.
    """
    settings = settings or BlockSettings()
    if len(first) != len(second) or len(first) < 2:
        raise ValueError("paired_change needs two equal rows of at least two blocks")
    difference = np.log(second) - np.log(first)
    own, freedom = mean_error(difference, settings)
    sd = hypot(own, settings.run_to_run_sd * sqrt(2))
    return LogChange(change=float(difference.mean()), sd=sd, own_sd=own, freedom=freedom)


def unpaired_change(
    first: FloatArray, second: FloatArray, settings: BlockSettings | None = None
) -> LogChange:
    """Change between two drives whose blocks do not belong together.

    Parameters
    ----------
    first, second : ndarray, shapes (n,) and (m,)
        Positive values of blocks [any unit], each in order of time.
    settings : BlockSettings, optional
        How blocks hang together.

    Returns
    -------
    LogChange
        Difference of the mean logs, with its standard deviation.

    References
    ----------
    As `paired_change`; degrees of freedom after Welch-Satterthwaite (JCGM 100:2008, G.4).
    """
    settings = settings or BlockSettings()
    logs = [np.log(first), np.log(second)]
    errors = [mean_error(values, settings) for values in logs]
    own = hypot(errors[0][0], errors[1][0])
    freedom = own**4 / sum(max(error, 1e-12) ** 4 / free for error, free in errors)
    sd = hypot(own, settings.run_to_run_sd * sqrt(2))
    change = float(logs[1].mean() - logs[0].mean())
    return LogChange(change=change, sd=sd, own_sd=own, freedom=freedom)


def change_of_estimates(
    first: Estimate,
    second: Estimate,
    settings: BlockSettings | None = None,
    *,
    methods: tuple[str, str] = ("", ""),
) -> LogChange:
    """Change between two estimates made by the same sensors.

    Parameters
    ----------
    first, second : Estimate
        Positive estimates. What is wrong in every drive of one car is taken to be the same in both
        and to cancel; where an estimate does not tell it apart, its whole interval counts.
    settings : BlockSettings, optional
        Spread from run to run.
    methods : tuple of str, optional
        How each damping ratio was measured, as in `AxleResult`; left out for other quantities, and
        unless both were measured alike.

    Returns
    -------
    LogChange
        Log of second over first.

    References
    ----------
    JCGM 100:2008 (GUM), 5.2: correlated errors cancel in a difference.
    """
    settings = settings or BlockSettings()
    method = methods[0] if methods[0] == methods[1] else ""
    own = hypot(own_log_sd(first, method), own_log_sd(second, method))
    return LogChange(
        change=log(second.value / first.value),
        sd=hypot(own, settings.run_to_run_sd * sqrt(2)),
        own_sd=own,
    )


def seconds_to_settle(
    change: LogChange, driven_s: float, settings: BlockSettings | None = None
) -> float | None:
    """Driving in all, both settings together, that would settle a change of the size found.

    Parameters
    ----------
    change : LogChange
        The change as found.
    driven_s : float
        Driving behind it, both runs together [s].
    settings : BlockSettings, optional
        Spread from run to run.

    Returns
    -------
    float or None
        Seconds; None where no length of two single drives would do, as drives of an unchanged car
        differ that much: change back and forth instead, and repeat.

    References
    ----------
    Derived here: the own variance falls with the time driven, the spread from run to run does not.
    """
    settings = settings or BlockSettings()
    affordable = (change.change / DETECTION_FACTOR) ** 2 - 2 * settings.run_to_run_sd**2
    if affordable <= 0:
        return None
    return driven_s * max(change.own_sd**2 / affordable, 1.0)


def mean_error(values: FloatArray, settings: BlockSettings) -> tuple[float, float]:
    """Standard error of the mean of neighbouring blocks, and its degrees of freedom.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Values in order [1], n >= 2.
    settings : BlockSettings
        How blocks hang together.

    References
    ----------
    Box, Jenkins & Reinsel, Time Series Analysis, ch. 2, from memory.
    """
    count = len(values)
    centred = values - values.mean()
    power = float(centred @ centred)
    seen = float(centred[1:] @ centred[:-1]) / power if power > 0 else 0.0
    seen += (1 + 4 * seen) / count
    prior, weight = settings.prior_correlation, settings.prior_blocks
    r = (count * seen + weight * prior) / (count + weight)
    r = float(np.clip(r, 0.0, settings.highest_correlation))
    inflation = (1 + r) / (1 - r) - 2 * r * (1 - r**count) / (count * (1 - r) ** 2)
    # Correlation also makes the plain variance read low; both follow from the same sum.
    shrink = 1 - (inflation - 1) / (count - 1)
    variance = power / (count - 1) / max(shrink, 0.1)
    independent = count / inflation
    return sqrt(variance * inflation / count), max(independent - 1, 1.0)


def student_95(freedom: float) -> float:
    """Two-sided 95 % factor of Student's distribution.

    Parameters
    ----------
    freedom : float
        Degrees of freedom [1]; infinite for the normal distribution.

    References
    ----------
    JCGM 100:2008 (GUM), table G.2.
    """
    from scipy.special import stdtrit

    return 1.96 if np.isinf(freedom) else float(stdtrit(freedom, 0.975))
