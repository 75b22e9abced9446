"""Where the car stands still."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ridelog.condition.stretches import keep_long_runs, widen
from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingSettings:
    """When a car counts as standing.

    `slowest_m_per_s`: below it a speed signal says standing. Without one, in blocks of `block_s`,
    every travel must keep within `travel_m` and every accelerometer within `acceleration_m_per_s2`
    (standard deviations; an idling engine shakes less, the smoothest road more), and both within
    `quiet_ratio` of the log's usual level, for at least `shortest_s`. `margin_s` at each end is
    left out: the body still rocks.
    """

    slowest_m_per_s: float = 0.3
    block_s: float = 0.5
    travel_m: float = 0.0005
    acceleration_m_per_s2: float = 0.3
    quiet_ratio: float = 0.25
    shortest_s: float = 1.0
    margin_s: float = 0.25


def standing_mask(
    channels: Mapping[str, FloatArray],
    valid: BoolArray,
    sample_rate_hz: float,
    settings: StandingSettings | None = None,
) -> BoolArray:
    """Tell where the car stands, by its speed if that was logged, else by its stillness.

    Parameters
    ----------
    channels : mapping of str to float array, shape (n,)
        Speed in m/s, travel in m, accelerations in m/s2 (gravity may be in them).
    valid : bool array, shape (n,)
        Where samples are present.
    sample_rate_hz : float
        Samples per second [Hz].

    Returns
    -------
    bool array, shape (n,)
    """
    settings = settings or StandingSettings()
    speed = channels.get("speed")
    if speed is not None and np.any(speed > 1.0):
        still = np.abs(speed) < settings.slowest_m_per_s
    else:
        still = _still_by_vibration(channels, len(valid), sample_rate_hz, settings)
    still = still & valid
    margin = int(settings.margin_s * sample_rate_hz)
    inner = ~widen(~still, margin) if margin else still
    return keep_long_runs(inner, settings.shortest_s * sample_rate_hz)


def _still_by_vibration(
    channels: Mapping[str, FloatArray], count: int, rate_hz: float, settings: StandingSettings
) -> BoolArray:
    block = max(2, int(settings.block_s * rate_hz))
    whole = count // block
    quiet = np.ones(whole, dtype=bool)
    judged = False
    for name, values in channels.items():
        if name == "speed":
            continue
        judged = True
        spread = values[: whole * block].reshape(whole, block).std(axis=1)
        travel = name.startswith("travel_")
        limit = settings.travel_m if travel else settings.acceleration_m_per_s2
        usual = float(np.quantile(spread, 0.75)) if whole else 0.0
        quiet &= spread < min(limit, max(settings.quiet_ratio * usual, 0.1 * limit))
    still = np.zeros(count, dtype=bool)
    if judged:
        still[: whole * block] = np.repeat(quiet, block)
    return still
