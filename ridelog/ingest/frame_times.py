"""Sample times of a recording's runs on one clock, from the logger's ticks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridelog.ingest.frame_clock import (
    ClockFit,
    HostClock,
    fit_clock,
    host_clock,
    host_time_s,
    true_rate,
)
from ridelog.ingest.frame_runs import LoggerRun
from ridelog.recording import FloatArray, IntArray
from ridelog.wire.decode import Decoded

# Between runs of which no clock tells how far they are apart.
UNKNOWN_GAP_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunTimes:
    """When the samples of a run were taken.

    `time_s` counts from the recording's first sample. `rate` is what the ticks were multiplied
    with to make true seconds, 1 where they were taken as they are. `placed` says whether a clock
    told where the run lies. `epoch_s` is date and time of the recording's first sample, where the
    host's clock is known.
    """

    time_s: FloatArray
    fit: ClockFit | None
    rate: float
    placed: bool
    epoch_s: float | None

    def at(self, run: LoggerRun, ticks: IntArray) -> FloatArray:
        """Times of other ticks of the run."""
        since = (ticks - run.ticks[0]) * (self.rate / run.logger.ticks_per_s)
        times: FloatArray = self.time_s[0] + since
        return times


def place_runs(runs: Sequence[LoggerRun], decoded: Decoded) -> tuple[RunTimes, ...]:
    """Put the runs of a recording on one clock.

    Parameters
    ----------
    runs : sequence of LoggerRun
        The runs in the order they came.
    decoded : Decoded
        All good frames; the host's clock is among them.

    Returns
    -------
    tuple of RunTimes
        Within a run the logger's ticks alone count. Where a run begins after another one, the
        host's clock tells, or else a second is left.
    """
    host = host_clock(decoded)
    placed: list[RunTimes] = []
    zero_s: float | None = None
    for run in runs:
        fit = fit_clock(run, host)
        begin_s = None if fit is None else host_time_s(fit, run.ticks[0] / run.logger.ticks_per_s)
        if not placed:
            zero_s = begin_s
        placed.append(_place(run, fit, begin_s, zero_s, placed, host))
    return tuple(placed)


def _place(
    run: LoggerRun,
    fit: ClockFit | None,
    begin_s: float | None,
    zero_s: float | None,
    before: Sequence[RunTimes],
    host: HostClock,
) -> RunTimes:
    """Place one run behind those before it."""
    rate = true_rate(fit)
    since = (run.ticks - run.ticks[0]) * (rate / run.logger.ticks_per_s)
    start_s, known = 0.0, True
    if before:
        end_s = float(before[-1].time_s[-1])
        known = begin_s is not None and zero_s is not None and begin_s - zero_s > end_s
        told_s = (begin_s or 0.0) - (zero_s or 0.0)
        start_s = told_s if known else end_s + UNKNOWN_GAP_S
    epoch_s = before[0].epoch_s if before else _epoch_s(begin_s, host)
    return RunTimes(time_s=start_s + since, fit=fit, rate=rate, placed=known, epoch_s=epoch_s)


def _epoch_s(begin_s: float | None, host: HostClock) -> float | None:
    """Date and time of an instant of the host's steady clock, by the record nearest to it."""
    if begin_s is None or not len(host.places):
        return None
    near = int(np.argmin(np.abs(host.steady_s - begin_s)))
    return float(host.utc_s[near] + begin_s - host.steady_s[near])
