"""What a recording says of itself, in words: losses, clock, runs, marks."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.ingest.frame_counts import SampleCounts, count_samples
from ridelog.ingest.frame_marks import Mark
from ridelog.ingest.frame_runs import LoggerRun, SortedFrames
from ridelog.ingest.frame_times import UNKNOWN_GAP_S, RunTimes
from ridelog.wire.decode import Decoded

_MOST_MARKS = 12


def remarks_of(
    frames: SortedFrames, times: Sequence[RunTimes], marks: Sequence[Mark], decoded: Decoded
) -> tuple[str, ...]:
    """Word what is worth knowing about a recording.

    Parameters
    ----------
    frames : SortedFrames
        The recording's runs.
    times : sequence of RunTimes
        When their samples were taken.
    marks : sequence of Mark
        Marks set during it.
    decoded : Decoded
        All good frames.
    """
    remarks = [_counts_words(sum_counts(frames.runs)), *_odd_samples(frames)]
    if decoded.rest_bytes:
        remarks.append("the last frame is cut off and left out")
    if len(frames.runs) > 1:
        remarks.append(_runs_words(frames.runs, times))
    for run, when in zip(frames.runs, times, strict=True):
        if words := _drift_words(when):
            remarks.append(words if len(frames.runs) == 1 else f"run {run.number}: {words}")
    if marks:
        remarks.append(_marks_words(marks))
    return tuple(remarks)


def sum_counts(runs: Sequence[LoggerRun]) -> SampleCounts:
    """Account for the samples of all runs.

    Parameters
    ----------
    runs : sequence of LoggerRun
        The runs.
    """
    return sum((count_samples(run) for run in runs), start=SampleCounts(received=0))


def _counts_words(counts: SampleCounts) -> str:
    """Say where the samples went."""
    ways = (
        (counts.missed, "missed by the logger (it was not done with the one before)"),
        (counts.dropped, "dropped by the logger (no room to send them)"),
        (counts.lost, "lost on the line"),
        (counts.untold, "missing, nobody can say where"),
    )
    told = [f"{count} {words}" for count, words in ways if count]
    if not told:
        return f"all {counts.due} samples of the logger are there"
    return f"of {counts.due} samples of the logger {counts.received} are there; {', '.join(told)}"


def _odd_samples(frames: SortedFrames) -> list[str]:
    """Say which samples could not be understood."""
    remarks = [
        f"{count} samples of run {number} are left out: the logger never said what they are"
        for number, count in frames.not_described.items()
    ]
    if frames.misfits:
        remarks.append(f"{frames.misfits} samples do not fit the logger's description; left out")
    if frames.misplaced:
        remarks.append(f"{frames.misplaced} samples have an impossible time; left out")
    return remarks


def _runs_words(runs: Sequence[LoggerRun], times: Sequence[RunTimes]) -> str:
    """Say where the logger began anew."""
    starts = ", ".join(f"{when.time_s[0]:.1f} s" for when in times[1:])
    words = f"the logger was started {len(runs)} times; it began anew at {starts}"
    if all(when.placed for when in times):
        return words
    return f"{words} (no clock tells how long it was away; {UNKNOWN_GAP_S:g} s was left)"


def _drift_words(when: RunTimes) -> str:
    """Say how the logger's clock runs."""
    fit = when.fit
    if fit is None or fit.drift is None:
        return ""
    drift, low, high = (1e6 * each for each in (fit.drift, fit.low, fit.high))
    words = (
        f"the logger's clock runs {drift:+.0f} parts per million ({low:+.0f} to {high:+.0f})"
        " against this computer's"
    )
    return words if when.rate == 1.0 else f"{words}; sample times are corrected for that"


def _marks_words(marks: Sequence[Mark]) -> str:
    """List the marks."""
    listed = [
        f"{'button' if mark.by_button else 'mark'} {mark.number} at {mark.time_s:.2f} s"
        for mark in marks[:_MOST_MARKS]
    ]
    more = f" and {len(marks) - _MOST_MARKS} more" if len(marks) > _MOST_MARKS else ""
    return f"marks: {', '.join(listed)}{more}"
