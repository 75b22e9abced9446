"""What tests and benches do with the recorder: run it, and account for every sample of a file."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from ridelog.errors import RidelogError
from ridelog.ingest.frame_counts import SampleCounts, sample_numbers
from ridelog.ingest.frame_remarks import sum_counts
from ridelog.ingest.frame_table import FrameRecording, take_apart
from ridelog.ingest.open_log import open_log
from ridelog.record.recorder import Recorder, RecordSettings
from ridelog.wire.readings import raw_readings
from tests.record.pty_board import expected_reading


@contextmanager
def recording(port: Path, file: Path, **settings: object) -> Iterator[Recorder]:
    """Record in the background; what goes wrong there is raised here."""
    recorder = Recorder(RecordSettings(port=str(port), baud=500_000, file=file, **settings))
    stop, failures = threading.Event(), []

    def run() -> None:
        try:
            recorder.run(stop)
        except RidelogError as error:
            failures.append(error)

    thread = threading.Thread(target=run)
    thread.start()
    try:
        yield recorder
    finally:
        stop.set()
        thread.join()
    if failures:
        raise failures[0]


def command(port: Path, file: Path, *options: str) -> list[str]:
    """The words that record from a port, as a process of its own."""
    words = ["record", str(port), "--out", str(file), *options]
    return [sys.executable, "-m", "tests.record.run_ridelog", *words]


def start(port: Path, file: Path, *options: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        command(port, file, *options), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def wait_until(is_so: Callable[[], bool], longest_s: float = 20.0) -> None:
    end_s = time.monotonic() + longest_s
    while not is_so():
        if time.monotonic() > end_s:
            raise TimeoutError("it did not come to that")
        time.sleep(0.01)


def opened(file: Path) -> FrameRecording:
    log = open_log(file, is_welcome=lambda head: True)
    with log.handle:
        return take_apart(log)


def counts_of(file: Path) -> SampleCounts:
    return sum_counts(opened(file).frames.runs)


def wrong_samples(file: Path) -> int:
    """How many samples of a `PtyBoard` differ from what it sent as that number."""
    wrong = 0
    for run in opened(file).frames.runs:
        numbers = sample_numbers(run)
        right = np.ones(len(numbers), dtype=bool)
        for channel, raw in zip(run.channels, raw_readings(run.samples, run.channels), strict=True):
            right &= raw == expected_reading(numbers, channel.index, channel.format == "<i2")
        wrong += int(np.count_nonzero(~right)) + len(numbers) - len(np.unique(numbers))
    return wrong
