"""Isolated wild readings: found, and bridged from their neighbours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.condition.order_statistics import median
from ridelog.condition.signals import Checked, Signals, kind_of, robust_spread
from ridelog.condition.stretches import IndexArray, runs_of
from ridelog.recording import AXLE_OF_CORNER, CORNERS_OF_AXLE, BoolArray, FloatArray, Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class SpikeSettings:
    """What sets a wild reading apart from a hard bump.

    A spike stands `height_ratio` robust standard deviations and `local_ratio` times the scatter
    around it above its surroundings, and its neighbours reach less than `neighbour_ratio` of its
    height: through the sensor's own filter a blow from a stop reaches 0.7 and more. `widest`
    samples at most, and wider than one only where no other sensor of the corner moves with it
    (`shared_ratio` robust standard deviations). Below `slow_hz` one sample may well be a pothole,
    so that twice the height is asked and that no other sensor of the corner moves with it.
    `fewest` spikes make a problem; a lone one is only mended.
    """

    height_ratio: float = 5.0
    local_ratio: float = 6.0
    neighbour_ratio: float = 0.5
    widest: int = 5
    shared_ratio: float = 4.0
    local_s: float = 0.06
    slow_hz: float = 200.0
    fewest: int = 2


def mend_spikes(signals: Signals, settings: SpikeSettings | None = None) -> Checked:
    """Find isolated wild readings and bridge them by straight lines.

    Parameters
    ----------
    signals : Signals
        The log on its even base.

    Returns
    -------
    Checked
        Signals with the spikes bridged, and one problem per channel that has several.
    """
    settings = settings or SpikeSettings()
    problems: list[Problem] = []
    spikes = {
        name: _spikes(signals, name, settings) for name in signals.channels if name != "speed"
    }
    for name, where in spikes.items():
        count = len(runs_of(where)[0])
        if count == 0:
            continue
        good = np.flatnonzero(~where)
        mended = signals.channels[name].copy()
        mended[where] = np.interp(np.flatnonzero(where), good, mended[good])
        signals = signals.with_channel(name, mended)
        if count >= settings.fewest:
            first_s = np.flatnonzero(where)[0] / signals.sample_rate_hz
            text = f"{name} has {count} isolated wild readings, first at {first_s:.2f} s; bridged"
            problems.append(Problem(code="spikes", channel=name, text=text, mended=True))
    return Checked(signals=signals, problems=tuple(problems))


def _spikes(signals: Signals, name: str, settings: SpikeSettings) -> BoolArray:
    values = signals.channels[name]
    found = np.zeros(len(values), dtype=bool)
    believable = signals.believable(name)
    some = values[:: max(1, len(values) // 50_000)]
    least = settings.height_ratio * robust_spread(some)
    if signals.sample_rate_hz < settings.slow_hz:
        least *= 2
    witnesses = _witnesses(name, signals)
    jumps = _jumps(values, least, settings)
    for width in range(1, settings.widest + 1 if witnesses else 2):
        for start in _candidates(values, jumps, width, least, settings):
            block = slice(start, start + width)
            if not believable[block].all() or found[block].any():
                continue
            if not _stands_out(values, start, width, signals.sample_rate_hz, settings):
                continue
            alone = width == 1 and signals.sample_rate_hz >= settings.slow_hz
            if alone or not _shared(signals, witnesses, block, settings):
                found[block] = True
    return found


def _candidates(
    values: FloatArray, jumps: IndexArray, width: int, least: float, settings: SpikeSettings
) -> list[int]:
    """First samples of blocks whose ends both stand off their flanks to the same side."""
    start = jumps[jumps + width < len(values)]
    before, after = values[start - 1], values[start + width]
    flank = 0.5 * (before + after)
    first = values[start] - flank
    height = np.abs(first)
    if width > 1:
        last = values[start + width - 1] - flank
        height = np.where(first * last > 0, np.minimum(height, np.abs(last)), 0.0)
    stands = (height > least) & (np.abs(before - after) < settings.neighbour_ratio * height)
    return [int(i) for i in start[stands]]


def _jumps(values: FloatArray, least: float, settings: SpikeSettings) -> IndexArray:
    """Samples so far from the one before that a spike may begin there; cheap, and misses none.

    The flanks differ by less than `neighbour_ratio` of the height, so that the first sample stands
    off the one before it by all but half of that.
    """
    if least <= 0:
        return np.zeros(0, dtype=np.intp)
    step = np.diff(values)
    np.abs(step, out=step)
    return np.flatnonzero(step > 0.99 * (1 - settings.neighbour_ratio / 2) * least) + 1


def _stands_out(
    values: FloatArray, start: int, width: int, rate_hz: float, settings: SpikeSettings
) -> bool:
    reach = max(6, int(settings.local_s * rate_hz))
    left = values[max(0, start - reach) : start]
    right = values[start + width : start + width + reach]
    around = np.concatenate([left, right])
    level = float(median(around))
    height = float(np.min(np.abs(values[start : start + width] - level)))
    neighbours = max(abs(left[-1] - level), abs(right[0] - level))
    return bool(
        neighbours < settings.neighbour_ratio * height
        and height > settings.local_ratio * robust_spread(around)
        and height > settings.height_ratio * robust_spread(values[:: max(1, len(values) // 5000)])
    )


def _witnesses(name: str, signals: Signals) -> tuple[str, ...]:
    """Sensors that would feel a real blow; empty where too few to clear a wide spike."""
    kind, _, corner = name.partition("_")
    if corner not in AXLE_OF_CORNER:
        return ()
    at_corner = tuple(f"{other}_{corner}" for other in ("travel", "body", "hub"))
    beside = tuple(f"{kind}_{other}" for other in CORNERS_OF_AXLE[AXLE_OF_CORNER[corner]])
    others = {*at_corner, *beside} - {name}
    present = tuple(sorted(other for other in others if other in signals.channels))
    if kind_of(name) == "travel":
        return present
    return present if len(present) == len(others) else ()


def _shared(
    signals: Signals, witnesses: tuple[str, ...], block: slice, settings: SpikeSettings
) -> bool:
    near = slice(max(0, block.start - 8), block.stop + 8)
    for witness in witnesses:
        values = signals.channels[witness]
        off = np.max(np.abs(values[near] - median(values[:: max(1, len(values) // 5000)])))
        if off > settings.shared_ratio * robust_spread(values[:: max(1, len(values) // 5000)]):
            return True
    return False
