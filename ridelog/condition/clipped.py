"""Readings that sit at a sensor's limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.condition.order_statistics import median
from ridelog.condition.signals import Checked, Signals, robust_spread
from ridelog.condition.stretches import runs_of
from ridelog.recording import BoolArray, FloatArray, Problem

# A sensor at its limit for less of the time still tells the rest: results leave those moments out.
MOST_CLIPPED_SHARE = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipSettings:
    """What sets a rail apart from a chance maximum, and a fault from a few hard hits.

    A rail holds `fewest` samples at one value that make up `outer_share` of all samples in the
    outer `outer_range` of the range. It is a fault if the channel sits there for `long_share` of
    the time; for `middle_share` where the rail is within `middle_ratio` robust standard deviations;
    for `short_share` within `near_ratio` (sound body and hub sensors reach 3.2 and 3.9 by chance;
    rough roads drive a 16 g hub sensor to its limit of 4 for 0.2 % of the time at most). Lesser
    hits, from `fewest_noted` samples with two in a row, are noted and left out.
    """

    fewest: int = 20
    fewest_noted: int = 2
    outer_share: float = 0.35
    outer_range: float = 0.05
    near_ratio: float = 3.5
    short_share: float = 0.0005
    middle_ratio: float = 6.0
    middle_share: float = 0.0025
    long_share: float = 0.005


def find_clipped(signals: Signals, settings: ClipSettings | None = None) -> Checked:
    """Find channels whose readings pile up at a limit.

    Parameters
    ----------
    signals : Signals
        The log on its even base, spikes mended.

    Returns
    -------
    Checked
        Samples at a limit are marked as doubtful; nothing is mended.
    """
    settings = settings or ClipSettings()
    problems: list[Problem] = []
    notes: list[str] = []
    for name, values in signals.channels.items():
        if name == "speed":
            continue
        believable = signals.believable(name)
        known = values if believable.all() else values[believable]
        if len(known) < settings.fewest:
            continue
        at_limit = np.zeros(len(values), dtype=bool)
        alarmed = False
        outermost = float(known.min()), float(known.max())
        for side in (1, -1):
            railed, alarm = _railed(values, known, outermost, side, settings)
            at_limit |= railed & believable
            alarmed |= alarm
        if not at_limit.any():
            continue
        signals = signals.with_doubt(name, at_limit)
        share = float(at_limit.mean())
        words = f"{name} sits at its sensor's limit for {100 * share:.2g} % of the time"
        if alarmed:
            rest = "; the rest is used" if share < MOST_CLIPPED_SHARE else ""
            text = f"{words}; use a sensor with more range, or move this one{rest}"
            problems.append(Problem(code="clipped", channel=name, text=text))
        else:
            notes.append(f"{words}, in short hits; those moments are left out")
    return Checked(signals=signals, problems=tuple(problems), notes=tuple(notes))


def _railed(
    values: FloatArray,
    known: FloatArray,
    outermost: tuple[float, float],
    side: int,
    settings: ClipSettings,
) -> tuple[BoolArray, bool]:
    """Where the limit on one side is sat on (nowhere if there is none), and whether it is a fault.

    `known` are the believable of the values, `outermost` the lowest and the highest of them.
    Statistics of a long log are taken from some of it.
    """
    nowhere = np.zeros(len(values), dtype=bool)
    bottom, top = outermost
    extent = top - bottom

    def within(readings: FloatArray, share: float) -> BoolArray:
        """Tell which readings lie within a share of the range from the limit."""
        if side > 0:
            return np.asarray(readings >= top - share * extent)
        return np.asarray(readings <= bottom + share * extent)

    at_limit = within(known, 1e-6)
    count = int(np.count_nonzero(at_limit))
    dwells = len(runs_of(at_limit)[0]) < count
    if extent == 0 or count < settings.fewest_noted or not dwells:
        return nowhere, False
    if count < settings.outer_share * np.count_nonzero(within(known, settings.outer_range)):
        return nowhere, False
    some = known[:: max(1, len(known) // 50_000)]
    limit = top if side > 0 else bottom
    reach = abs(limit - float(median(some))) / max(robust_spread(some), 1e-12)
    share = count / len(known)
    if reach < settings.near_ratio:
        least = settings.short_share
    else:
        least = settings.middle_share if reach < settings.middle_ratio else settings.long_share
    if count >= settings.fewest:
        return within(values, 1e-6), share >= least
    return (within(values, 1e-6) if reach > settings.middle_ratio else nowhere), False
