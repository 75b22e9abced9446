"""Bump-stop contacts in two runs: fewer, more, or chance."""

from __future__ import annotations

from math import ceil

from ridelog.recording import CORNERS_OF_AXLE
from ridelog.runs.collect import Run

LEAST_PROBABILITY = 0.5
"""Contacts less certain than this are not counted."""


def contact_remark(run_a: Run, run_b: Run, axle_name: str) -> str | None:
    """Say whether an axle hits its bump stops more or less often than before.

    Parameters
    ----------
    run_a, run_b : Run
        First and second run.
    axle_name : str
        ``front`` or ``rear``.

    Returns
    -------
    str or None
        None where a run cannot tell contacts or neither has any.
    """
    counts = [_contacts(run, axle_name) for run in (run_a, run_b)]
    if counts[0] is None or counts[1] is None or counts[0] + counts[1] == 0:
        return None
    minutes = [run.analysis.log.duration_s / 60 for run in (run_a, run_b)]
    chance = chance_of_split(counts[0], counts[1], minutes[0], minutes[1])
    fewer = counts[1] / minutes[1] < counts[0] / minutes[0]
    verdict = "cannot tell"
    if chance < 0.05:
        verdict = "better" if fewer else "worse"
    percent = max(ceil(100 * chance), 1)
    return (
        f"{axle_name} bump-stop contacts: {counts[0]} in {minutes[0]:.1f} min -> {counts[1]} in "
        f"{minutes[1]:.1f} min: {verdict} (on like roads chance does as much in {percent} % of "
        "cases)."
    )


def chance_of_split(first: int, second: int, first_time: float, second_time: float) -> float:
    """Probability that equal rates split a total count as unevenly as this, either way.

    Parameters
    ----------
    first, second : int
        Counts [1].
    first_time, second_time : float
        Times they were counted in [min, or any one unit].

    References
    ----------
    Przyborowski & Wilenski, Biometrika 31, 1940, 313-323 (conditional test of two Poisson
    counts), from memory: the first count is binomial given the total; the smaller tail is doubled.
    """
    from scipy.special import bdtr

    total, share = first + second, first_time / (first_time + second_time)
    low = float(bdtr(first, total, share))
    high = 1.0 if first == 0 else 1 - float(bdtr(first - 1, total, share))
    return min(1.0, 2 * min(low, high))


def _contacts(run: Run, axle_name: str) -> int | None:
    """Count the contacts of one axle; None where no corner can tell."""
    stops = [
        stop
        for corner in CORNERS_OF_AXLE[axle_name]
        if corner in run.analysis.corners
        and (stop := run.analysis.corners[corner].bump_stop) is not None
    ]
    if not stops:
        return None
    return sum(c.probability >= LEAST_PROBABILITY for stop in stops for c in stop.contacts)
