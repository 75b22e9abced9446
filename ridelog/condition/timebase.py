"""From the rows of a file to signals on one even time base, and what was wrong with the clock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.condition.clock import Clock, read_clock
from ridelog.condition.clock_line import ClockSettings
from ridelog.condition.resample import place
from ridelog.condition.signals import Signals
from ridelog.condition.stretches import as_seconds, keep_long_runs
from ridelog.recording import FloatArray, Gap, Problem, RawRecording, channel_kind

GAP_S = 0.1  # the contract's limit for the code `gap`
SLOWEST_HZ = 80.0  # below it wheel hop at 10 to 16 Hz is sampled too sparsely to be told from noise


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TimeBase:
    """Signals on their even base, its start in the log's time, gaps and problems."""

    signals: Signals
    start_s: float
    gaps: tuple[Gap, ...]
    problems: tuple[Problem, ...]
    interpolated: bool


def on_even_base(raw: RawRecording) -> TimeBase:
    """Put all channels of a log on one even time base.

    Parameters
    ----------
    raw : RawRecording
        The log as recorded.

    Returns
    -------
    TimeBase
        Samples of an evenly sampled log are its own, neither filtered nor copied.
    """
    clock = read_clock(raw.time_s)
    rate_hz = 1.0 / clock.interval_s
    missing = np.zeros(clock.sample_count, dtype=bool)
    channels: dict[str, FloatArray] = {}
    problems: list[Problem] = []
    for name, values in raw.channels.items():
        placed = place(values, clock)
        if placed.missing is not None and channel_kind(name) != "speed":
            if placed.missing.mean() > 0.9:
                problems.append(_empty_problem(name))
                continue
            missing |= placed.missing
        channels[name] = placed.values
    signals = Signals(sample_rate_hz=rate_hz, channels=channels, doubtful={}, missing=missing)
    spans = as_seconds(keep_long_runs(missing, GAP_S * rate_hz), rate_hz)
    gaps = tuple(Gap(start_s=float(start), end_s=float(end)) for start, end in spans)
    problems = [*_clock_problems(clock), *_gap_problems(gaps), *_slow_problems(rate_hz), *problems]
    return TimeBase(
        signals=signals,
        start_s=clock.start_s,
        gaps=gaps,
        problems=tuple(problems),
        interpolated=clock.stamps_s is not None,
    )


def _empty_problem(name: str) -> Problem:
    text = f"{name} has hardly any readings; is the sensor connected?"
    return Problem(code="flat", channel=name, text=text)


def _clock_problems(clock: Clock) -> tuple[Problem, ...]:
    if clock.backward_s:
        text = f"the time column runs backwards ({len(clock.backward_s)} times"
        text = f"{text}, first at {clock.backward_s[0]:.3f} s)"
    elif clock.still_s:
        text = f"the time column stands still ({len(clock.still_s)} rows"
        text = f"{text}, first at {clock.still_s[0]:.3f} s)"
    elif clock.jitter_ratio > ClockSettings().jitter_ratio and not clock.rounded:
        text = f"the time stamps jitter by {100 * clock.jitter_ratio:.0f} % of the sample interval"
    else:
        return ()
    how = "stamps" if clock.stamps_s is not None else "row numbers"
    return (Problem(code="clock", text=f"{text}; sample times rebuilt from {how}", mended=True),)


def _gap_problems(gaps: tuple[Gap, ...]) -> tuple[Problem, ...]:
    if not gaps:
        return ()
    total_s = sum(gap.end_s - gap.start_s for gap in gaps)
    places = "in one place" if len(gaps) == 1 else f"in {len(gaps)} places"
    text = f"samples are missing {places}, {total_s:.2f} s in all, first at {gaps[0].start_s:.2f} s"
    text = f"{text}; these moments are left out"
    return (
        Problem(code="gap", text=text, start_s=gaps[0].start_s, end_s=gaps[-1].end_s, mended=True),
    )


def _slow_problems(rate_hz: float) -> tuple[Problem, ...]:
    if rate_hz >= SLOWEST_HZ:
        return ()
    text = (
        f"{rate_hz:.1f} samples per second are too few for suspension work "
        f"(at least {SLOWEST_HZ:.0f}, better 200 to 500): faster motion folds into what is seen"
    )
    return (Problem(code="slow", text=text),)
