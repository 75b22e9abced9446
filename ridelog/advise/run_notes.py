"""Remarks on the runs behind an advice: logs with faults, logs without a setup."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.runs.collect import Run


def run_notes(runs: Sequence[Run]) -> tuple[str, ...]:
    """Name the runs that tell less than they might, and why.

    Parameters
    ----------
    runs : sequence of Run
        All runs, oldest first.

    Returns
    -------
    tuple of str
        One note for every log with a fault, and one for all those without a setup file.
    """
    notes = [
        f"{run.file}: {'; '.join(problem.text for problem in run.analysis.problems)}."
        for run in runs
        if run.analysis.problems
    ]
    bare = [run.file for run in runs if run.setup is None]
    if bare:
        notes.append(_bare_note(bare, alone=len(bare) == len(runs)))
    return tuple(notes)


def _bare_note(files: Sequence[str], *, alone: bool) -> str:
    """Say what a missing setup file costs."""
    text = f"{', '.join(files)}: no setup file, so the clicks are not known and teach nothing."
    if alone:
        return text
    it = "it counts" if len(files) == 1 else "they count"
    return f"{text} Having no date, {it} as driven before the others."
