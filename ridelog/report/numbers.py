"""How numbers are worded for people: rounded to what their interval supports."""

from __future__ import annotations

import math

from ridelog.estimate.result import Estimate

DIGITS_WITHOUT_INTERVAL = 3
"""Significant digits of a number that has no interval: enough for a workshop figure."""

UNKNOWN = "not known"


def decimals_for(half_width: float) -> int:
    """Decimal places that a number with this half-width deserves; negative rounds to tens.

    Parameters
    ----------
    half_width : float
        Half of the interval, in the unit the number is shown in; must be positive.

    Notes
    -----
    Two digits of the half-width while its three leading digits are 100 to 354, one above; from 950
    on it counts as 1000 with two digits, which is the same place.

    References
    ----------
    Particle Data Group, Review of Particle Physics, introduction, section 5.3 (rounding).
    """
    exponent = math.floor(math.log10(half_width))
    leading = round(half_width / 10.0 ** (exponent - 2))
    return 1 - exponent if leading <= 354 else -exponent


def number(value: float, decimals: int) -> str:
    """Write a number with that many decimal places and an ASCII minus sign.

    Parameters
    ----------
    value : float
        The number, in any unit.
    decimals : int
        Decimal places; negative rounds to tens, hundreds and so on.
    """
    rounded = round(value, decimals) + 0.0  # adding zero turns -0.0 into 0.0
    return f"{rounded:.{max(decimals, 0)}f}"


def plain(value: float) -> str:
    """Write a number that has no interval, to three significant digits: ``0.35``, ``1.42``.

    Parameters
    ----------
    value : float
        The number, in any unit.
    """
    if abs(value) >= 10.0**DIGITS_WITHOUT_INTERVAL:
        return f"{value:.0f}"
    return f"{value:.{DIGITS_WITHOUT_INTERVAL}g}"


def _decimals(estimate: Estimate, scale: float) -> int:
    half_width = (estimate.high - estimate.low) * scale / 2
    if half_width > 0:
        return decimals_for(half_width)
    return DIGITS_WITHOUT_INTERVAL


def value_words(estimate: Estimate | None, unit: str = "", scale: float = 1.0) -> str:
    """Write the value alone, rounded to its interval, with its unit.

    Parameters
    ----------
    estimate : Estimate or None
        The number; None is written as not known.
    unit : str
        Unit to show, for example ``Hz``.
    scale : float
        Shown unit per stored unit, for example 0.001 from N/m to N/mm [1].
    """
    if estimate is None:
        return UNKNOWN
    text = number(estimate.value * scale, _decimals(estimate, scale))
    return f"{text} {unit}".rstrip()


def interval_words(estimate: Estimate | None, scale: float = 1.0) -> str:
    """Write the 95 % interval as ``low to high``, rounded like the value.

    Parameters
    ----------
    estimate : Estimate or None
        The number; None gives an empty text.
    scale : float
        Shown unit per stored unit [1].
    """
    if estimate is None:
        return ""
    decimals = _decimals(estimate, scale)
    return f"{number(estimate.low * scale, decimals)} to {number(estimate.high * scale, decimals)}"


def estimate_words(estimate: Estimate | None, unit: str = "", scale: float = 1.0) -> str:
    """Write value and interval in one breath: ``0.35 (0.33 to 0.37)``.

    Parameters
    ----------
    estimate : Estimate or None
        The number.
    unit : str
        Unit to show after the value.
    scale : float
        Shown unit per stored unit [1].
    """
    if estimate is None:
        return UNKNOWN
    return f"{value_words(estimate, unit, scale)} ({interval_words(estimate, scale)})"


def plus_minus_words(estimate: Estimate | None) -> str:
    """Write value and half-width for a narrow cell: ``310 +-12``; empty where not known.

    Parameters
    ----------
    estimate : Estimate or None
        The number.
    """
    if estimate is None:
        return ""
    decimals = _decimals(estimate, 1.0)
    half_width = (estimate.high - estimate.low) / 2
    return f"{number(estimate.value, decimals)} +-{number(half_width, decimals)}"
