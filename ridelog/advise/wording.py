"""Numbers in the owner's words: clicks from his end, intervals, rates in both trade units."""

from __future__ import annotations

from ridelog.advise.readings import Knob
from ridelog.advise.spring_rates import POUND_FORCE_PER_INCH_N_PER_M
from ridelog.car.description import Axle
from ridelog.estimate.result import Estimate


def click_words(axle: Axle, clicks: float, knob: Knob = "clicks") -> str:
    """Say a click the way the owner counts: ``6 from full stiff``.

    Parameters
    ----------
    axle : Axle
        The axle; says from which end its owner counts.
    clicks : float
        Click [1] counted from full soft.
    knob : str
        ``clicks``, ``bump_clicks`` or ``rebound_clicks``.
    """
    last = getattr(axle, knob)
    counted = last - clicks if axle.clicks_from == "stiff" and last else clicks
    return f"{counted:g} from full {axle.clicks_from}"


def ratio_words(estimate: Estimate) -> str:
    """Say a damping ratio with its interval: ``0.312 (95 %: 0.300 to 0.325)``."""
    return f"{estimate.value:.3f} (95 %: {estimate.low:.3f} to {estimate.high:.3f})"


def frequency_words(estimate: Estimate) -> str:
    """Say a frequency with its interval: ``1.28 Hz (95 %: 1.26 to 1.30)``, finer where narrow."""
    places = 2 if estimate.high - estimate.low >= 0.02 else 3
    low, high = (f"{limit:.{places}f}" for limit in (estimate.low, estimate.high))
    return f"{estimate.value:.{places}f} Hz (95 %: {low} to {high})"


def rate_words(rate_n_per_m: float) -> str:
    """Say a spring rate in both units of the trade: ``78.8 N/mm (450 lbf/in)``.

    Parameters
    ----------
    rate_n_per_m : float
        Spring rate [N/m].

    References
    ----------
    NIST SP 811 (2008), appendix B.8: the pound-force and the inch.
    """
    pounds = rate_n_per_m / POUND_FORCE_PER_INCH_N_PER_M
    return f"{rate_n_per_m / 1000:.1f} N/mm ({pounds:.0f} lbf/in)"


def percent_words(ratio: float) -> str:
    """Say a relative difference: 0.85 is ``15 % too low``, 1.1 is ``10 % too high``.

    Parameters
    ----------
    ratio : float
        What is over what should be [1].
    """
    return f"{abs(ratio - 1) * 100:.0f} % too {'low' if ratio < 1 else 'high'}"
