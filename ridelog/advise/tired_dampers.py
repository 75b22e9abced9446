"""One damper weaker than its partner, or too much friction: faults that clicks must not hide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, hypot, log

from ridelog.advise.knob_prior import KnobPrior
from ridelog.advise.readings import COVERAGE_FACTOR, clicks_of, log_sd
from ridelog.advise.trade_facts import LOOK_THERE_FIRST
from ridelog.car.description import Axle, Car
from ridelog.car.geometry import sprung_mass_per_corner_kg
from ridelog.estimate.result import AxleResult, CornerResult, Estimate
from ridelog.recording import CORNERS_OF_AXLE, STANDARD_GRAVITY_M_PER_S2
from ridelog.runs.collect import Run

CORNER_WORDS = {"fl": "left front", "fr": "right front", "rl": "left rear", "rr": "right rear"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultLimits:
    """When a difference is a fault; common practice, no source.

    New dampers of a pair differ by up to some 10 %; a worn one is at 30-70 % of its partner.
    """

    tired_ratio: float = 0.75
    tired_upper_limit: float = 0.88  # surely below what a pair may differ
    uneven_ratio: float = 0.90
    uneven_upper_limit: float = 0.97
    friction_of_load: float = 0.02  # Coulomb friction over the spring's static load
    one_sided_n: float = 15.0
    one_sided_ratio: float = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Imbalance:
    """The weaker corner of an axle; `ratio` is its damping over its partner's, clicks allowed for.

    `tired` is False for a difference that is worth a look but no fault yet.
    """

    weak: str
    partner: str
    ratio: Estimate
    tired: bool
    file: str


def find_imbalance(
    car: Car, run: Run, axle_name: str, limits: FaultLimits | None = None
) -> Imbalance | None:
    """Compare the two dampers of an axle in one run.

    Parameters
    ----------
    car : Car
        The car.
    run : Run
        The run.
    axle_name : str
        ``front`` or ``rear``.
    limits : FaultLimits, optional
        When a difference counts.

    Returns
    -------
    Imbalance or None
        None where the corners agree within their intervals or were not measured.

    Notes
    -----
    Different clicks left and right are allowed for by the usual range of knobs and its spread.

    References
    ----------
    Derived here; limits are common practice.
    """
    limits = limits or FaultLimits()
    corners = CORNERS_OF_AXLE[axle_name]
    found = [run.analysis.corners.get(corner) for corner in corners]
    left, right = (result.damping_ratio if result else None for result in found)
    if left is None or right is None or left.value <= 0 or right.value <= 0:
        return None
    apart, apart_sd = _by_clicks(car.axle(axle_name), run, axle_name)
    difference = log(left.value / right.value) - apart
    sd = hypot(log_sd(left), log_sd(right), apart_sd)
    weak, partner = corners if difference < 0 else corners[::-1]
    value, width = exp(-abs(difference)), exp(COVERAGE_FACTOR * sd)
    ratio = Estimate(value=value, low=value / width, high=value * width)
    tired = value < limits.tired_ratio and ratio.high < limits.tired_upper_limit
    uneven = value < limits.uneven_ratio and ratio.high < limits.uneven_upper_limit
    if not (tired or uneven):
        return None
    return Imbalance(weak=weak, partner=partner, ratio=ratio, tired=tired, file=run.file)


def latest_imbalance(car: Car, runs: Sequence[Run], axle_name: str) -> Imbalance | None:
    """Imbalance of the latest run that measured both dampers of an axle, or None.

    Parameters
    ----------
    car : Car
        The car.
    runs : sequence of Run
        Oldest first.
    axle_name : str
        ``front`` or ``rear``.
    """
    for run in reversed(runs):
        corners = [run.analysis.corners.get(c) for c in CORNERS_OF_AXLE[axle_name]]
        if all(result and result.damping_ratio for result in corners):
            return find_imbalance(car, run, axle_name)
    return None


def imbalance_reasons(imbalance: Imbalance) -> tuple[str, ...]:
    """Say which damper is weak and what to do about it.

    Parameters
    ----------
    imbalance : Imbalance
        The weaker corner.
    """
    weak, partner = CORNER_WORDS[imbalance.weak], CORNER_WORDS[imbalance.partner]
    ratio = imbalance.ratio
    share = (
        f"{100 * ratio.value:.0f} % (95 %: {100 * ratio.low:.0f} to {100 * ratio.high:.0f} %) "
        f"of the {partner} ({imbalance.file})"
    )
    if not imbalance.tired:
        return (
            f"The {weak} damper gives {share}: a pair may differ that much when worn. Check that "
            "both knobs stand alike and look for oil.",
        )
    return (
        f"The {weak} damper ({imbalance.weak}) is weak: it gives {share}. Clicks would only hide "
        "that, so leave the knobs.",
        "Check that both knobs stand alike and look for oil and play. Then swap the two dampers "
        "side to side and drive again: if the weakness moves with the damper, send it in for "
        "service or renew the pair; if it stays, look at mounts and sensors on that side.",
    )


def friction_reason(
    axle: Axle, result: AxleResult | None, limits: FaultLimits | None = None
) -> str | None:
    """Say that friction is high and where to look first, or None.

    Parameters
    ----------
    axle : Axle
        The axle.
    result : AxleResult or None
        Its latest result.
    limits : FaultLimits, optional
        When friction is high.

    References
    ----------
    Common practice, no source; the dead band of the ride height is friction over spring rate
    either way (Thomson, Theory of Vibration with Applications, p. 36).
    """
    limits = limits or FaultLimits()
    friction = result.friction_n if result else None
    load = sprung_mass_per_corner_kg(axle) * STANDARD_GRAVITY_M_PER_S2 / axle.motion_ratio
    if friction is None or friction.low <= limits.friction_of_load * load:
        return None
    band_mm = 1000 * friction.value / axle.spring_rate_n_per_m
    return (
        f"Friction is high: {friction.value:.0f} N per damper (95 %: {friction.low:.0f} to "
        f"{friction.high:.0f} N); the car may rest {band_mm:.0f} mm above or below its true "
        f"height. {LOOK_THERE_FIRST}"
    )


def one_sided_friction_reason(
    axle_name: str,
    left: CornerResult | None,
    right: CornerResult | None,
    limits: FaultLimits | None = None,
) -> str | None:
    """Say that one side of an axle has clearly more friction than the other, or None.

    Parameters
    ----------
    axle_name : str
        ``front`` or ``rear``.
    left, right : CornerResult or None
        The corners of the latest run.
    limits : FaultLimits, optional
        When a difference counts.

    References
    ----------
    Common practice, no source; the intervals must lie apart.
    """
    limits = limits or FaultLimits()
    frictions = [corner.friction_n if corner else None for corner in (left, right)]
    if frictions[0] is None or frictions[1] is None:
        return None
    sides = zip(frictions, CORNERS_OF_AXLE[axle_name], strict=True)
    (less, _), (more, corner) = sorted(
        ((friction, corner) for friction, corner in sides if friction),
        key=lambda side: side[0].value,
    )
    apart = more.value - less.value
    doubt = hypot(more.value - more.low, less.high - less.value)
    if apart < max(doubt, limits.one_sided_n) or more.value < limits.one_sided_ratio * less.value:
        return None
    return (
        f"Friction is one-sided: {more.value:.0f} N in the {CORNER_WORDS[corner]} damper and what "
        f"moves with it, {less.value:.0f} N on the other side. {LOOK_THERE_FIRST}"
    )


def _by_clicks(axle: Axle, run: Run, axle_name: str) -> tuple[float, float]:
    """Log ratio left over right that different clicks explain, and its standard deviation."""
    clicks = clicks_of(run.setup, axle_name, "clicks")
    if clicks is None or not axle.clicks or clicks[0] == clicks[1]:
        return 0.0, 0.0
    prior, share = KnobPrior(), (clicks[0] - clicks[1]) / axle.clicks
    return prior.range_mean * share, prior.range_sd * abs(share)
