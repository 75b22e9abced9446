"""Which channels a result may rest on."""

from __future__ import annotations

from collections.abc import Iterable

from ridelog.recording import Problem, Recording

# faults of the whole log, or of moments that the valid mask leaves out, condemn no channel
_HARMLESS = ("gap", "clock", "slow")


def usable_channels(recording: Recording, problems: Iterable[Problem]) -> frozenset[str]:
    """Name the channels that are sound or were mended.

    Parameters
    ----------
    recording : Recording
        The log made ready.
    problems : iterable of Problem
        What was found wrong with it.

    Returns
    -------
    frozenset of str
        A result that needs any other channel of the log is null.
    """
    spoilt: set[str] = set()
    for problem in problems:
        if not problem.mended and problem.code not in _HARMLESS:
            spoilt.update(problem.channels)
            if problem.channel is not None:
                spoilt.add(problem.channel)
    return frozenset(recording.channels) - spoilt
