"""How alike the drives of one car read: the part of an estimate's error that is new each time."""

from __future__ import annotations

from math import log

from ridelog.estimate.result import Estimate

BALANCE_OWN_SHARE = 0.5
"""Own part over the whole standard deviation of damping from a force balance.

Dry friction and the soft start of a bleed hole deceive every run of a car alike; the rest is new
each time. Twenty simulated axles driven at five clicks and on three roads came back alike to 0.6 of
the standard deviation with all sensors and to 0.5 without travel, twelve driven four times over one
road for three minutes to 0.5, wide and narrow intervals alike (rms). The drive's floor, added by
those who use this, makes up for the rest.
"""

_NORMAL_95 = 1.96


def log_sd(estimate: Estimate) -> float:
    """Relative standard deviation of a positive estimate [1], from its 95 % interval.

    Parameters
    ----------
    estimate : Estimate
        The estimate; its lower limit may reach below zero.

    References
    ----------
    JCGM 100:2008 (GUM), 4.3.4: standard deviation from a 95 % interval.
    """
    if estimate.low > 0:
        return log(estimate.high / estimate.low) / (2 * _NORMAL_95)
    return (estimate.high - estimate.low) / (2 * _NORMAL_95 * estimate.value)


def own_log_sd(estimate: Estimate, method: str = "") -> float:
    """Relative standard deviation of the part of an estimate that differs from drive to drive [1].

    Parameters
    ----------
    estimate : Estimate
        A positive damping ratio, or another positive quantity where `method` is left out.
    method : str, optional
        How damping was measured, as in `AxleResult`.

    Returns
    -------
    float
        As the estimate tells it apart; its whole interval where it does not. The spread of the car
        itself from day to day is not in it.

    References
    ----------
    JCGM 100:2008 (GUM), 4.3.4; the share of a force balance from simulated cars.
    """
    if method.startswith("force balance"):
        return BALANCE_OWN_SHARE * log_sd(estimate)
    if estimate.random_half_width is not None:
        return estimate.random_half_width / (_NORMAL_95 * estimate.value)
    return log_sd(estimate)
