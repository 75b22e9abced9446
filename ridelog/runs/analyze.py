"""One log from file to results."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ridelog.car.description import Axle, Car
from ridelog.car.springs import with_main_rate
from ridelog.condition.prepare import Prepared, prepare
from ridelog.condition.usable import usable_channels
from ridelog.errors import LogError, SignalError
from ridelog.estimate.drive import estimate_log
from ridelog.estimate.result import AnalysisResult
from ridelog.ingest.read import read_log
from ridelog.ingest.table_chunks import TellShare
from ridelog.recording import CORNERS_OF_AXLE, Source, Step
from ridelog.runs.setup import RunSetup


def analyze_log(
    log: Path, car: Car, setup: RunSetup | None = None, tell: TellShare | None = None
) -> AnalysisResult:
    """Read, mend and estimate one log.

    Parameters
    ----------
    log : Path
        The log file; it is only read.
    car : Car
        The car it was driven with.
    setup : RunSetup, optional
        What was set for this run; its spring rates take the place of the car file's.
    tell : callable, optional
        Told the share read so far, 0 to 1.

    Raises
    ------
    LogError
        The file cannot be read as a log.

    References
    ----------
    The estimators name theirs.
    """
    car = with_setup(car, setup)
    return results_of(prepared_log(log, car, tell), car)


def results_of(prepared: Prepared, car: Car) -> AnalysisResult:
    """Estimate from a log made ready, without the channels that are not to be trusted.

    Parameters
    ----------
    prepared : Prepared
        The log, made ready.
    car : Car
        The car as it was driven.

    References
    ----------
    The estimators name theirs.
    """
    recording, notes = prepared.recording, prepared.notes
    sound = usable_channels(recording, prepared.problems)
    left_out = sorted(set(recording.channels) - sound)
    if left_out:
        recording = recording.with_channels(
            {name: values for name, values in recording.channels.items() if name in sound},
            Step(name="leave out", settings=tuple((name, "faulty") for name in left_out)),
        )
        named = ", ".join(left_out)
        notes = (*notes, f"left out of the analysis because of the faults found: {named}")
    return estimate_log(recording, car, prepared.problems, notes)


def prepared_log(log: Path, car: Car, tell: TellShare | None = None) -> Prepared:
    """Read one log and make it ready; the log's name goes into every complaint.

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
        The file cannot be read as a log, or holds too little to be made ready.
    """
    try:
        raw = read_log(log, car.logger, tell)
        prepared = prepare(raw, car)
    except SignalError as error:
        raise LogError(log, str(error)) from error
    return replace(prepared, notes=(*_reading_notes(raw.source), *prepared.notes))


def _reading_notes(source: Source) -> tuple[str, ...]:
    """What was left out or taken for granted while the file was read."""
    if not source.rows_skipped:
        return source.remarks
    total = source.rows_read + source.rows_skipped_count
    lines = "; ".join(source.rows_skipped)
    return (f"{source.rows_skipped_count} of {total} rows not read: {lines}", *source.remarks)


def with_setup(car: Car, setup: RunSetup | None) -> Car:
    """Return the car with the springs that were fitted for a run.

    Parameters
    ----------
    car : Car
        As the car file has it.
    setup : RunSetup or None
        What was set.
    """
    if setup is None or not setup.spring_rate_n_per_m:
        return car
    return replace(
        car,
        front=_with_springs(car.front, "front", setup),
        rear=_with_springs(car.rear, "rear", setup),
    )


def _with_springs(axle: Axle, name: str, setup: RunSetup) -> Axle:
    rates = [
        setup.spring_rate_n_per_m[corner]
        for corner in CORNERS_OF_AXLE[name]
        if corner in setup.spring_rate_n_per_m
    ]
    if not rates:
        return axle
    return with_main_rate(axle, sum(rates) / len(rates))
