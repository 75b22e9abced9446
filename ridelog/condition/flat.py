"""Channels that do not move while the rest of the car does."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.condition.signals import Checked, Signals
from ridelog.condition.stretches import keep_long_runs, mask_of, runs_of
from ridelog.recording import BoolArray, FloatArray, Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatSettings:
    """`longest_still_s`: sound sensors hold a value for 0.08 s at most on a moving car.

    `moving_ratio`: another channel moves if its spread is at least this share of its usual one.
    """

    longest_still_s: float = 1.0
    moving_ratio: float = 0.3


def find_flat(signals: Signals, settings: FlatSettings | None = None) -> Checked:
    """Find channels that hold one value for a while, or for ever, while others move.

    Parameters
    ----------
    signals : Signals
        The log on its even base.

    Returns
    -------
    Checked
        The flat stretches are marked as doubtful; nothing is mended.

    Notes
    -----
    A parked car holds every reading still; a stretch counts only if at least half of the other
    channels move as they usually do. A channel alone in its log counts if it moved up to the
    moment it froze.
    """
    settings = settings or FlatSettings()
    rate_hz = signals.sample_rate_hz
    frozen: dict[str, BoolArray] = {}
    for name, values in signals.channels.items():
        if name != "speed":
            held = np.zeros(len(values), dtype=bool)
            np.equal(values[1:], values[:-1], out=held[:-1])
            held &= ~signals.missing
            held = keep_long_runs(held, settings.longest_still_s * rate_hz)
            if held.any():
                frozen[name] = held
    problems = []
    for name in tuple(frozen):
        stretches = [s for s in zip(*runs_of(frozen[name]), strict=True)]
        counted = [s for s in stretches if _others_move(signals, name, s, frozen, settings)]
        if not counted:
            continue
        starts, ends = (np.array(side) for side in zip(*counted, strict=True))
        where = mask_of(starts, ends + 1, signals.sample_count + 1)[:-1]
        signals = signals.with_doubt(name, where)
        problems.append(_problem(name, where, signals))
    return Checked(signals=signals, problems=tuple(problems))


def _others_move(
    signals: Signals,
    name: str,
    stretch: tuple[int, int],
    frozen: dict[str, BoolArray],
    settings: FlatSettings,
) -> bool:
    begin, end = stretch
    others = [other for other in signals.channels if other not in (name, "speed")]
    block = max(2, int(signals.sample_rate_hz * settings.longest_still_s))
    if not others or end - begin > 0.9 * signals.sample_count:
        return _moved_before(signals.channels[name], begin, end, block)
    others = [o for o in others if not (o in frozen and frozen[o][begin:end].mean() > 0.5)]
    moving = [
        _spread(signals.channels[other][begin:end], block)
        > settings.moving_ratio * _spread(signals.channels[other], block)
        for other in others
    ]
    # several plugs may be out at once, but a car of which nothing moves is parked
    return sum(moving) >= max(1, len(moving) / 2)


def _moved_before(values: FloatArray, begin: int, end: int, block: int) -> bool:
    if end - begin > 0.9 * len(values):
        return True
    beside = np.concatenate([values[max(0, begin - block) : begin], values[end : end + block]])
    return bool(beside.std() > 0.3 * values.std()) and len(beside) > block // 2


def _spread(values: FloatArray, block: int) -> float:
    """Median spread of blocks of a signal: what it does most of the time."""
    whole = len(values) // block * block
    if whole == 0:
        return float(values.std())
    return float(np.median(values[:whole].reshape(-1, block).std(axis=1)))


def _problem(name: str, where: BoolArray, signals: Signals) -> Problem:
    rate_hz = signals.sample_rate_hz
    starts, ends = runs_of(where)
    if where[~signals.missing].mean() > 0.95:
        return Problem(
            code="flat",
            channel=name,
            text=f"{name} does not move at all; is the sensor connected?",
        )
    start_s, end_s = starts[0] / rate_hz, ends[-1] / rate_hz
    text = (
        f"{name} stops moving for {np.count_nonzero(where) / rate_hz:.1f} s, "
        f"first at {start_s:.1f} s, while the rest of the car moves; look at plug and cable"
    )
    return Problem(code="flat", channel=name, text=text, start_s=start_s, end_s=end_s)
