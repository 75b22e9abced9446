"""Undo the delays of channels that the car file or the logger states."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ridelog.condition.disagreement import shifted
from ridelog.condition.signals import Checked, Signals
from ridelog.errors import SignalError
from ridelog.recording import BoolArray, channel_kind


def undo_stated_delays(signals: Signals, delays_s: Mapping[str, float]) -> Checked:
    """Move channels to when things happened, by the delays that owner and logger state.

    Parameters
    ----------
    signals : Signals
        The log on its even base, spikes mended: a spike would ring through the shift.
    delays_s : mapping of str to float
        Delay of each channel [s], positive where it is late.

    Returns
    -------
    Checked
        Signals with the delays undone; samples at an end that the shift had to make up are missing.

    Raises
    ------
    SignalError
        When a delay is as long as the log.
    """
    notes = []
    missing = signals.missing.copy()
    for name, delay_s in delays_s.items():
        if name not in signals.channels:
            continue
        made_up = int(np.ceil(abs(delay_s) * signals.sample_rate_hz))
        if made_up >= signals.sample_count:
            raise SignalError(
                f"{name}: the delay of {delay_s:g} s (logger.channels.{name}.delay in the car file,"
                " or the logger's own) is longer than the log; correct it"
            )
        values = shifted(signals.channels[name], signals.sample_rate_hz, delay_s)
        signals = signals.with_channel(name, values)
        if name in signals.doubtful:
            moved = _moved(signals.doubtful[name], round(delay_s * signals.sample_rate_hz))
            signals = replace(signals, doubtful={**signals.doubtful, name: moved})
        if channel_kind(name) != "speed":  # speed changes slowly: its held ends are good enough
            missing[-made_up:] |= delay_s > 0
            missing[:made_up] |= delay_s < 0
        way = "earlier" if delay_s > 0 else "later"
        notes.append(f"{name} moved {abs(1000 * delay_s):g} ms {way}, by its stated delay")
    return Checked(signals=replace(signals, missing=missing), notes=tuple(notes))


def _moved(mask: BoolArray, count: int) -> BoolArray:
    """Move a mask earlier by a number of samples, ends held."""
    index = np.clip(np.arange(len(mask)) + count, 0, len(mask) - 1)
    return mask[index]
