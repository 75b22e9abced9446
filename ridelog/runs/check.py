"""Is a log fit to be analyzed: sensors and clock, before any estimate."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ridelog.car.description import Car
from ridelog.condition.segments import log_kind
from ridelog.condition.unchecked import unchecked
from ridelog.condition.usable import usable_channels
from ridelog.estimate.curves import StripCurve
from ridelog.estimate.result import LogInfo
from ridelog.ingest.table_chunks import TellShare
from ridelog.recording import Recording, Step, channel_kind
from ridelog.runs.abilities import CheckResult, abilities
from ridelog.runs.analyze import prepared_log

STRIP_SLOTS = 240
"""Slots of a channel's strip: about one per pixel of the narrow pictures they are drawn in."""

STRIP_UNITS = {"travel": ("mm", 1000.0), "acceleration": ("m/s2", 1.0), "speed": ("m/s", 1.0)}


def check_log(log: Path, car: Car, tell: TellShare | None = None) -> CheckResult:
    """Tell whether a log is fit to be analyzed and what it can tell.

    Parameters
    ----------
    log : Path
        The log file.
    car : Car
        The car it was driven with.
    tell : callable, optional
        Told the share read so far, 0 to 1.

    Raises
    ------
    LogError
        The file cannot be read as a log.

    References
    ----------
    The rules per problem code are those of `ridelog.condition`; nothing is decided here.
    """
    prepared = prepared_log(log, car, tell)
    recording = prepared.recording
    kind = log_kind(recording)
    usable = usable_channels(recording, prepared.problems)
    sound = recording.with_channels(
        {name: values for name, values in recording.channels.items() if name in usable},
        Step(name="leave out", settings=()),
    )
    return CheckResult(
        log=LogInfo(
            file=recording.source.file,
            kind=kind,
            duration_s=recording.duration_s,
            sample_rate_hz=recording.sample_rate_hz,
            gaps=recording.gaps,
            channels=tuple(recording.channels),
        ),
        can_tell=abilities(sound, kind),
        problems=prepared.problems,
        notes=(*prepared.notes, *unchecked(recording.channels)),
        strips=tuple(_strip(recording, name) for name in recording.channels),
    )


def _strip(recording: Recording, name: str) -> StripCurve:
    unit, scale = STRIP_UNITS[channel_kind(name)]
    slots = np.array_split(recording.channels[name] * scale, min(STRIP_SLOTS, len(recording.valid)))
    middles = (np.arange(len(slots)) + 0.5) * recording.duration_s / len(slots)
    return StripCurve(
        channel=name,
        unit=unit,
        time_s=middles,
        low=np.array([slot.min() for slot in slots]),
        high=np.array([slot.max() for slot in slots]),
    )
