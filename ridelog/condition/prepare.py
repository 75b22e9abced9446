"""From what the file said to what the estimators see: the one entry of this room."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Car
from ridelog.condition.clock import Clock, ClockSettings, read_clock
from ridelog.condition.resample import place
from ridelog.condition.stretches import as_seconds, keep_long_runs
from ridelog.recording import (
    BoolArray,
    FloatArray,
    Gap,
    Problem,
    RawRecording,
    Recording,
    Step,
    channel_kind,
)

GAP_S = 0.1  # the contract's limit for the code `gap`


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prepared:
    """A log made ready: signals on one even time base, what was wrong, and what was done."""

    recording: Recording
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]


def prepare(raw: RawRecording, car: Car) -> Prepared:
    """Check a log, mend what can be mended, and put it on one even time base.

    Parameters
    ----------
    raw : RawRecording
        The log as recorded, calibrated to SI.
    car : Car
        The car, for the relations between its sensors.
    """
    clock = read_clock(raw.time_s)
    channels: dict[str, FloatArray] = {}
    valid: BoolArray = np.ones(clock.sample_count, dtype=bool)
    for name, values in raw.channels.items():
        placed = place(values, clock)
        channels[name] = placed.values
        if placed.missing is not None and channel_kind(name) != "speed":
            valid &= ~placed.missing
    rate_hz = 1.0 / clock.interval_s
    gaps = as_seconds(keep_long_runs(~valid, GAP_S * rate_hz), rate_hz)
    for name, values in channels.items():
        if channel_kind(name) == "acceleration":
            channels[name] = values - (values[valid].mean() if valid.any() else values.mean())
    recording = Recording(
        sample_rate_hz=rate_hz,
        channels=channels,
        valid=valid,
        source=raw.source,
        start_s=clock.start_s,
        gaps=tuple(Gap(start_s=float(a), end_s=float(b)) for a, b in gaps),
        steps=(Step(name="even time base", settings=(("sample_rate_hz", rate_hz),)),),
    )
    return Prepared(recording=recording, problems=clock_problems(clock), notes=())


def clock_problems(clock: Clock) -> tuple[Problem, ...]:
    """Say what was wrong with the time column."""
    if clock.backward_s:
        text = f"the time column runs backwards, first at {clock.backward_s[0]:.3f} s"
    elif clock.still_s and not clock.rounded:
        text = f"the time column stands still, first at {clock.still_s[0]:.3f} s"
    elif clock.jitter_ratio > ClockSettings().jitter_ratio and not clock.rounded:
        share = 100 * clock.jitter_ratio
        text = f"the time stamps jitter by {share:.0f} % of the sample interval"
    else:
        return ()
    return (Problem(code="clock", text=text, mended=True),)
