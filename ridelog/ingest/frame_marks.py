"""Marks set during a recording, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridelog.ingest.frame_clock import host_clock, host_time_s
from ridelog.ingest.frame_runs import LoggerRun
from ridelog.ingest.frame_times import RunTimes
from ridelog.wire.decode import Decoded
from ridelog.wire.messages import HOST_EVENT, HOST_MARK, HostEvent
from ridelog.wire.unpack import unpack


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A mark's number and time [s]; `by_button` where it was set at the logger itself."""

    number: int
    time_s: float
    by_button: bool = False


def marks_of(
    runs: Sequence[LoggerRun], times: Sequence[RunTimes], decoded: Decoded
) -> tuple[Mark, ...]:
    """Find the marks of a recording.

    Parameters
    ----------
    runs : sequence of LoggerRun
        The logger's runs.
    times : sequence of RunTimes
        Their times.
    decoded : Decoded
        All good frames.

    Returns
    -------
    tuple of Mark
        In the order of time. A mark of the host's counts by its own clock only where the logger
        did not stamp it.
    """
    marks: list[Mark] = []
    stamped: set[int] = set()
    for run, when in zip(runs, times, strict=True):
        for time_s, (_, mark) in zip(when.at(run, run.mark_ticks()), run.marks, strict=True):
            marks.append(
                Mark(number=mark.number, time_s=float(time_s), by_button=not mark.by_command)
            )
            if mark.by_command:
                stamped.add(mark.number)
    marks += [mark for mark in _host_marks(runs, times, decoded) if mark.number not in stamped]
    return tuple(sorted(marks, key=lambda mark: mark.time_s))


def _host_marks(
    runs: Sequence[LoggerRun], times: Sequence[RunTimes], decoded: Decoded
) -> list[Mark]:
    """Place the host's marks by its clock, which the first run is laid over."""
    host, first = host_clock(decoded), times[0]
    if first.fit is None:
        return []
    zero_s = host_time_s(first.fit, runs[0].ticks[0] / runs[0].logger.ticks_per_s)
    found = []
    for place, body in decoded.in_order(frozenset({HOST_EVENT})):
        event = unpack(body)
        before = int(np.searchsorted(host.places, place)) - 1
        if isinstance(event, HostEvent) and event.code == HOST_MARK and before >= 0:
            time_s = float(host.steady_s[before]) - zero_s
            found.append(Mark(number=event.number, time_s=time_s))
    return found
