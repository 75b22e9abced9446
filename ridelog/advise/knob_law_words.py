"""What a drive measured, what the knob does, and what is not proven, in plain words."""

from __future__ import annotations

from math import ceil

from ridelog.advise.readings import COVERAGE_FACTOR, Knob
from ridelog.advise.result import KnobLaw
from ridelog.advise.wording import click_words, percent_words, ratio_words
from ridelog.car.description import Axle
from ridelog.estimate.result import Estimate

MOST_DRIVES_WORTH_IT = 6
"""More drives than this at each of two clicks nobody does: common practice, no source."""


def measured_reason(measured: Estimate, target: float, file: str, where: str | None) -> str:
    """Say what the latest drive measured and how far that is from the target.

    Parameters
    ----------
    measured : Estimate
        Damping ratio.
    target : float
        Damping ratio wanted [1].
    file : str
        The log's name.
    where : str or None
        The click it was driven at, in words.
    """
    at = f" at {where}" if where else ""
    inside = measured.low <= target <= measured.high
    verdict = "the target lies inside" if inside else percent_words(measured.value / target)
    text = f"{file}{at}: damping ratio {ratio_words(measured)}, target {target:g}: {verdict}."
    if measured.largest_contributor:
        text += f" What limits it most: {measured.largest_contributor}."
    return text


def law_reason(law: KnobLaw, now: int, runs: int, axle: Axle, knob: Knob = "clicks") -> str:
    """Say what the knob is believed to do, and how surely.

    Parameters
    ----------
    law : KnobLaw
        Belief about every click.
    now : int
        The present click [1] from full soft.
    runs : int
        Runs behind the belief [1].
    axle : Axle
        The axle.
    knob : str
        Which knob.
    """
    step = step_per_click(law, now)
    basis = "one run and what such knobs usually do" if runs == 1 else f"{runs} runs"
    ends = " and ".join(
        f"{law.damping_ratio[end]:.2f} ({law.low[end]:.2f} to {law.high[end]:.2f}) at full {name}"
        for end, name in ((0, "soft"), (-1, "stiff"))
    )
    return (
        f"The knob, from {basis}: about {100 * step:.0f} % per click near "
        f"{click_words(axle, now, knob)}, {ends}."
    )


def step_per_click(law: KnobLaw, now: int) -> float:
    """Relative change of damping [1] that one click is believed to make near the present one.

    Parameters
    ----------
    law : KnobLaw
        Belief about every click.
    now : int
        The present click [1] from full soft.
    """
    low, high = max(now - 1, 0), min(now + 1, law.clicks[-1])
    rise = law.damping_ratio[high] / law.damping_ratio[low]
    return float(rise ** (1 / max(high - low, 1)) - 1)


def unproven_reason(measured: Estimate, law: KnobLaw, now: int, own_sd: float) -> str | None:
    """Say that the reading is wider than a click, and which drives would settle it; else None.

    Parameters
    ----------
    measured : Estimate
        Latest damping ratio [1].
    law : KnobLaw
        Belief about every click.
    now : int
        The present click [1] from full soft.
    own_sd : float
        Relative standard deviation [1] of what differs from drive to drive.

    References
    ----------
    Derived here: two settings are told apart once the 95 % half-width of the difference of their
    mean readings is below a click; lasting errors cancel in it.
    """
    half_width = (measured.high - measured.low) / (2 * measured.value)
    step = step_per_click(law, now)
    if half_width <= step:
        return None
    found = (
        f"Not proven to the click: this reading is known to +-{100 * half_width:.0f} %, a click "
        f"here does about {100 * step:.0f} %."
    )
    drives = ceil(2 * (COVERAGE_FACTOR * own_sd / max(step, 1e-6)) ** 2)
    if drives > MOST_DRIVES_WORTH_IT:
        return f"{found} Telling neighbours apart would take more drives than it is worth."
    how = "one drive" if drives <= 1 else f"{drives} drives"
    return (
        f"{found} What would settle which of two clicks is nearer: {how} of 3 minutes at each, on "
        "the same stretch and the same day; what sensors have wrong in every run cancels between "
        "them."
    )
