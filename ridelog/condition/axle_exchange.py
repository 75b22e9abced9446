"""Body sensors exchanged between the axles: found by the road, which the front meets first."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from ridelog.car.description import Car
from ridelog.condition.corner_pairs import with_exchanged
from ridelog.condition.road_relations import (
    RoadSettings,
    agreement,
    axle_delays,
    exchange_problem,
)
from ridelog.condition.signals import Checked, Signals
from ridelog.condition.spectra import window_spectra
from ridelog.recording import BODY_CHANNELS

_PAIRS = ((0, 3), (1, 2), (0, 2), (1, 3))
LEAST_LEAD = 0.1  # agreement by which one exchange must beat the others


def check_axle_exchange(
    signals: Signals, car: Car, trusted: Collection[str], settings: RoadSettings | None = None
) -> Checked:
    """Find a front and a rear body sensor exchanged, by the road that both axles meet.

    Parameters
    ----------
    signals : Signals
        The log on its even base.
    car : Car
        The car; uses its wheelbase. Without a logged speed nothing is judged.
    trusted : collection of str
        Channels that no earlier check has given up.

    Notes
    -----
    On a rigid body left less right is alike at both axles, and stays so with opposite corners
    exchanged. All other exchanges break it, and `check_identity` finds them, if the body is stiff.

    References
    ----------
    Derived here.
    """
    settings = settings or RoadSettings()
    if not all(name in signals.channels and name in trusted for name in BODY_CHANNELS):
        return Checked(signals=signals)
    windows = window_spectra(signals, BODY_CHANNELS)
    if windows is None:
        return Checked(signals=signals)
    delay_s = axle_delays(signals, windows, car.wheelbase_m, settings)
    if len(delay_s) > 1 or not np.isfinite(delay_s).any():  # no speed: among many one fits
        return Checked(signals=signals)
    band = (windows.frequency_hz >= settings.low_hz) & (windows.frequency_hz <= settings.high_hz)
    omega = 2 * np.pi * windows.frequency_hz[band]
    lines = windows.lines[:, :, band]
    tried = []
    for pair in _PAIRS:
        order = np.arange(4)
        order[list(pair)] = pair[::-1]
        tried.append((agreement(lines[order], omega, delay_s, settings), pair))
    (best, pair), (second, _) = sorted(tried, reverse=True)[:2]
    before = agreement(lines, omega, delay_s, settings)
    if best - before < settings.least_gain or best - second < LEAST_LEAD:
        return Checked(signals=signals)
    problem = exchange_problem((BODY_CHANNELS[pair[0]], BODY_CHANNELS[pair[1]]))
    return Checked(signals=with_exchanged(signals, problem.channels), problems=(problem,))
