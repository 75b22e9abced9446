"""The recorder's promises, measured: ``python -m tests.bench.recorder [NAME ...] [--seconds 600]``.

Names: cpu, fast, kill, unplug, truncate, mutate, read; all of them where none is given. The logger
is `tests/record/pty_board.py` in a process of its own, on a pseudo terminal; the recorder runs as
people run it, without a terminal (cpu also with one, as script gives it).
"""

from __future__ import annotations

import argparse
import json
import os
import pty
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from ridelog.car.description import Logger
from ridelog.errors import LogError
from ridelog.ingest.read import read_log
from ridelog.wire.decode import decode
from tests.record.logger_frames import MadeUpLogger, readings
from tests.record.pty_board import PtyBoard
from tests.record.recordings import command, counts_of, recording, start, wait_until, wrong_samples

SEED = 31
WORD = "{:<34} {}"


def tell(what: str, words: str) -> None:
    print(WORD.format(what, words), flush=True)  # noqa: T201


@contextmanager
def board_process(folder: Path, rate_hz: float, channels: int) -> Iterator[subprocess.Popen]:
    """A board of its own process, so that its work is not counted as the recorder's."""
    port = folder / "port"
    options = ["--rate", str(rate_hz), "--channels", str(channels)]
    board = subprocess.Popen(
        [sys.executable, "-m", "tests.record.pty_board", str(port), *options],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    wait_until(port.exists)
    try:
        yield board
    finally:
        board.communicate()


def board_counts(board: subprocess.Popen) -> dict[str, int]:
    board.stdin.write("counts\n")
    board.stdin.flush()
    return json.loads(board.stdout.readline())


def record_for(
    folder: Path, rate_hz: float, channels: int, seconds: float, terminal: bool = False
) -> tuple[float, float, str]:
    """Record; return the share of a core used, that without the start, and what became of it."""
    file = folder / "drive.rec"
    with board_process(folder, rate_hz, channels) as board:
        words = command(folder / "port", file, "--seconds", str(seconds))
        errors: int = subprocess.DEVNULL
        if terminal:
            master, errors = pty.openpty()
            threading.Thread(target=drain, args=(master,), daemon=True).start()
        process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=errors)
        _, _, usage = os.wait4(process.pid, 0)
        process.returncode = 0
        due = board_counts(board)["due"]
    cpu_s = usage.ru_utime + usage.ru_stime
    counts = counts_of(file)
    words = (
        f"{due} sampled, {counts.received} recorded, {counts.dropped} dropped, {counts.missed}"
        f" missed, {counts.lost} lost, {counts.untold} untold, {wrong_samples(file)} wrong"
    )
    return cpu_s / seconds, (cpu_s - start_cost_s()) / seconds, words


def drain(master: int) -> None:
    """Be a terminal that takes what it is shown."""
    while True:
        try:
            if not os.read(master, 1 << 16):
                return
        except OSError:
            return


def start_cost_s() -> float:
    """Processor time that starting the recorder takes, whatever it records."""
    modules = "ridelog.cli.main, ridelog.record.recorder, ridelog.cli.record_display, rich.live"
    process = subprocess.Popen([sys.executable, "-c", f"import {modules}"])
    _, _, usage = os.wait4(process.pid, 0)
    process.returncode = 0
    return usage.ru_utime + usage.ru_stime


def bench_cpu(folder: Path, seconds: float) -> None:
    for terminal in (False, True):
        inner = folder / f"cpu_{terminal}"
        inner.mkdir()
        share, steady, words = record_for(inner, 1000, 16, seconds, terminal)
        where = "on a terminal" if terminal else "piped"
        tell(f"16 x 1 kHz, {seconds:g} s, {where}", f"{100 * share:.1f} % of a core; {words}")
        tell("", f"{100 * steady:.1f} % without starting the program")


def bench_fast(folder: Path, seconds: float) -> None:
    share, _, words = record_for(folder, 4000, 16, min(seconds, 60))
    tell(f"16 x 4 kHz, {min(seconds, 60):g} s", f"{100 * share:.1f} % of a core; {words}")


def bench_kill(folder: Path, seconds: float, count: int = 200) -> None:
    random = np.random.default_rng(SEED)
    lost_ms: list[int] = []
    wrong = unreadable = 0
    for number in range(count):
        inner = folder / f"kill_{number}"
        inner.mkdir()
        file = inner / "drive.rec"
        with PtyBoard(inner / "port") as board:
            process = start(board.link, file)
            wait_until(lambda file=file: file.exists() and file.stat().st_size > 200)
            wait_until(lambda board=board: board.logger.sampling)
            time.sleep(float(random.uniform(0.02, 1.5)))
            due = board.counts()["due"]  # what there was when the axe fell
            os.kill(process.pid, signal.SIGKILL)
            process.communicate()
        try:
            lost_ms.append(due - read_log(file, Logger()).source.rows_read)
            wrong += wrong_samples(file)
        except LogError:
            # Killed before the first sample was due a tenth of a second ago, there is none to read.
            unreadable += due > 100
    late = sum(each > 100 for each in lost_ms)
    tell(
        f"{count} x kill -9",
        f"lost: median {np.median(lost_ms):.0f} ms, at most {max(lost_ms)} ms, {late} times more"
        f" than 100; {wrong} samples wrong, {unreadable} files unreadable",
    )


def bench_unplug(folder: Path, seconds: float, count: int = 100) -> None:
    random = np.random.default_rng(SEED + 1)
    file = folder / "drive.rec"
    with PtyBoard(folder / "port") as board:
        with recording(board.link, file) as recorder:
            for _ in range(count):
                received = recorder.snapshot.received
                wait_until(lambda received=received: recorder.snapshot.received > received)
                time.sleep(float(random.uniform(0.0, 0.5)))
                board.unplug()
                wait_until(lambda: not recorder.snapshot.connected)
                board.plug()
            received = recorder.snapshot.received
            wait_until(lambda: recorder.snapshot.received > received + 500)
        due = board.counts()["due"]
    counts = counts_of(file)
    tell(
        f"{count} x unplugged",
        f"{due} sampled = {counts.received} recorded + {counts.missed} missed + {counts.dropped}"
        f" dropped + {counts.lost} lost + {counts.untold} untold; off by {due - counts.due};"
        f" {wrong_samples(file)} wrong",
    )


def bench_truncate(folder: Path, seconds: float) -> None:
    logger = MadeUpLogger()
    line = logger.describe() + logger.samples(readings(400, logger.channels)) + logger.status()
    whole = decode(line).good_count
    faults = 0
    for end in range(len(line) + 1):
        decoded = decode(line[:end])
        faults += decoded.good_count != line[:end].count(b"\0") or decoded.bad_count != 0
    tell(f"cut at each of {len(line)} bytes", f"{whole} frames; {faults} cuts not fully recovered")


def bench_mutate(folder: Path, seconds: float, count: int = 1_000_000) -> None:
    """Change one to four bytes of each frame, zeros and lengths included."""
    random = np.random.default_rng(SEED + 2)
    logger = MadeUpLogger(body_count=4, travel_count=4)
    accepted = hurt = 0
    for _ in range(count // 50_000):
        line = logger.samples(readings(50_000, logger.channels))
        (sent,) = decode(line).groups
        frames = line[:-1].split(b"\0")
        damaged = np.frombuffer(line, np.uint8).copy()
        starts, lengths = sent.starts, np.array([len(each) for each in frames])
        for _ in range(4):
            places = starts + (random.random(len(starts)) * lengths).astype(np.int64)
            chosen = random.random(len(starts)) < (1.0 if _ == 0 else 0.5)
            damaged[places[chosen]] ^= random.integers(1, 256, chosen.sum(), dtype=np.uint8)
        pieces = damaged.tobytes()[:-1].split(b"\0")
        known = set(frames)
        hurt += sum(piece not in known for piece in pieces)
        decoded = decode(damaged)
        bodies = {bytes(body) for body in sent.bodies.T}
        accepted += sum(
            bytes(body) not in bodies for group in decoded.groups for body in group.bodies.T
        )
    expected = hurt / 65_536
    tell(
        f"{count} frames damaged",
        f"{hurt} pieces, {accepted} accepted; 1 in 65 536 is {expected:.1f}",
    )


def bench_read(folder: Path, seconds: float) -> None:
    """Ten minutes of 16 channels at 4 kHz."""
    file = folder / "long.rec"
    logger = MadeUpLogger(rate_hz=4000, travel_count=4, body_count=4)
    for index in range(8):
        logger._add("other", "", "<i2", 1.0, 0.0, f"u{index}")
    begin = logger.describe()
    table = readings(60_000, logger.channels)
    with file.open("wb") as handle:
        handle.write(begin)
        for _ in range(40):
            handle.write(logger.samples(table))
    begin_s = time.process_time()
    raw = read_log(file, Logger())
    took_s = time.process_time() - begin_s
    size = file.stat().st_size / 1e6
    tell("10 min x 16 x 4 kHz read", f"{took_s:.1f} s CPU, {len(raw.time_s)} rows, {size:.0f} MB")


BENCHES = {
    "cpu": bench_cpu,
    "fast": bench_fast,
    "kill": bench_kill,
    "unplug": bench_unplug,
    "truncate": bench_truncate,
    "mutate": bench_mutate,
    "read": bench_read,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", choices=[*BENCHES, []])
    parser.add_argument("--seconds", type=float, default=60.0)
    options = parser.parse_args()
    for name in options.names or BENCHES:
        folder = Path(tempfile.mkdtemp(prefix=f"recorder_{name}_"))
        try:
            BENCHES[name](folder, options.seconds)
        finally:
            shutil.rmtree(folder)


if __name__ == "__main__":
    main()
