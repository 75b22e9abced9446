"""Damage files at random and read them: a sound result or one clear line, nothing else.

Run as ``python -m tests.bench.fuzz_readers [count] [seed]`` from the top of the tree. Every kind of
file that ridelog reads takes its turn: text tables, packed ones, Parquet, MDF, GPX, NMEA,
recordings of a serial logger, car and setup files. Logs are read with a mapping or without, or
their columns guessed, as their bytes have it. A damaged file that brings forth an outcome not seen
before is damaged again later, so that the search goes where the readers have not been;
`fuzz_guided` does the same by the lines of code that run. Prints one line per kind: how many were
read, how many refused, how many different outcomes, and every failure with the seed that makes it
again.
"""

from __future__ import annotations

import gzip
import io
import os
import re
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from cobs import cobs

from ridelog.car.description import ChannelMapping, Logger
from ridelog.car.load import load_car
from ridelog.errors import RidelogError
from ridelog.ingest.propose import propose
from ridelog.ingest.read import read_log
from ridelog.runs.load_setup import load_setup
from ridelog.wire.framing import CRC_BYTES, LONGEST_CONTENT_BYTES, frame
from ridelog.wire.pack import RECORDING_BODY
from tests.record.logger_frames import MadeUpLogger, readings

ROWS = "".join(f"{0.002 * i:.3f},{(-1) ** i * i / 7:.3f},{9.8 + i / 50:.2f}\n" for i in range(14))
TEXT = "time_s,travel_fl_mm,body_fl_mps2\n" + ROWS
CAR = """
[car]
name = "Saturday wagon"
wheelbase = "2.794 m"
[front]
layout = "independent"
track = "1.52 m"
sprung_mass = "780 kg"
unsprung_mass = "86 kg"
spring_rate = "450 lbf/in"
motion_ratio = 0.61
clicks = 18
[rear]
layout = "solid"
track = "1.50 m"
damper_spacing = "1.05 m"
sprung_mass = "560 kg"
unsprung_mass = "150 kg"
spring_rate = "190 lbf/in"
motion_ratio = 0.78
clicks = 18
[logger]
time = { column = "t", unit = "ms" }
[logger.channels]
travel_fl = { column = "A0", unit = "V", points = [["0.52 V", "-48 mm"], ["4.41 V", "61 mm"]] }
body_fl = { column = "az1", unit = "g", sign = -1, cross_axis = { ax1 = 0.01 } }
"""
SETUP = """
date = 2026-05-02
note = "baseline"
[clicks]
front = 6
rr = 8
[spring_rate]
front = "500 lbf/in"
[tyre_pressure]
front = "30 psi"
"""
GPX = '<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>' + "".join(
    f'<trkpt lat="{50 + i / 9999:.5f}" lon="8"><time>2026-05-02T10:00:{i:02d}Z</time>'
    f"<speed>{i}</speed></trkpt>"
    for i in range(12)
)
NMEA = (
    "$GPGGA,092750.000,5321.6802,N,00630.3372,W,1,8,1.03,61.7,M,55.2,M,,*76\n"
    "$GPRMC,092750.000,A,5321.6802,N,00630.3372,W,0.02,31.66,280511,,,A*43\n"
    "$GPGSA,A,3,10,07,05,02,29,04,08,13,,,,,1.72,1.03,1.38*0A\n"
)
PIECES = (
    b"\n",
    b",",
    b";",
    b'"',
    b"\0",
    b"\r",
    b"#",
    b"nan",
    b"-",
    b"e9",
    b"\xff",
    b"[",
    b"}",
    b"=",
)


@dataclass(slots=True)
class Kind:
    """One kind of file: its corpus, how to read it, how to damage it, and what came of it.

    `one_in` makes a kind rarer that takes long to read.
    """

    name: str
    corpus: list[bytes]
    read: Callable[[Path], object]
    one_in: int = 1
    damage: Callable[[bytes, np.random.Generator], bytes] | None = None
    outcomes: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)


MAPPED = Logger(channels={"cabin": ChannelMapping(column="2", unit="g")}, sample_rate_hz=100.0)


def read_somehow(path: Path) -> str:
    """Read a log with a mapping or without, or guess its columns; its bytes say which."""
    way = zlib.crc32(path.read_bytes()) % 3
    if way == 0:
        return "mapped: " + outcome(lambda: read_log(path, MAPPED))
    if way == 1:
        return "guessed: " + outcome(lambda: propose(path))
    return outcome(lambda: read_log(path, Logger()))


def outcome(read: Callable[[], object]) -> str:
    """Name what came of a reading, without its numbers."""
    try:
        result = read()
    except RidelogError as error:
        words = str(error)
        if "\n" in words and not hasattr(error, "faults"):
            raise AssertionError(f"more than one line: {words!r}") from error
        return "refused: " + re.sub(r'"[^"]*"|\d+(\.\d+)?', "#", words)[:80]
    source = getattr(result, "source", None)
    if source is None:
        return "read"
    for values in (result.time_s, *result.channels.values()):
        if values.shape != (source.rows_read,) or np.isinf(values).any():
            raise AssertionError(f"unsound: {values.shape}, {source.rows_read} rows")
    return "read: " + re.sub(r"\d+", "#", " ".join(source.rows_skipped))[:60]


def kinds(folder: Path) -> list[Kind]:
    """List all kinds, each with its sound files."""
    text = TEXT.encode()
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("drive.csv", text)
    commas = text.replace(b",", b";").replace(b".", b",")
    stamped = b"Date,Time,A0\n" + b"".join(
        f"5/2/2026,11:59:{i % 60:02d}.{i} PM,{i}\n".encode() for i in range(14)
    )
    car = load_car(_written(folder / "sound.toml", CAR.encode()))
    return [
        Kind("text", [text, commas, text.replace(b",", b"  "), stamped], read_somehow),
        Kind("packed", [gzip.compress(text, mtime=0), packed.getvalue()], read_somehow),
        Kind("parquet", [_parquet(folder)], read_somehow),
        Kind("mdf", [_mdf(folder)], lambda path: outcome(lambda: read_log(path, Logger())), 20),
        Kind("gpx", [(GPX + "</trkseg></trk></gpx>").encode()], read_somehow),
        Kind("nmea", [NMEA.encode() * 3], read_somehow),
        Kind("recording", _recordings(), read_somehow, damage=damaged_frames),
        Kind("car", [CAR.encode()], lambda path: outcome(lambda: load_car(path))),
        Kind("setup", [SETUP.encode()], lambda path: outcome(lambda: load_setup(path, car))),
    ]


def _recordings() -> list[bytes]:
    """Recordings of a made-up logger: one started again, one with every kind of loss, one bare."""
    logger = MadeUpLogger(scan_step_s=0.0002)
    rows = readings(12, logger.channels)
    first = logger.describe() + logger.status() + logger.samples(rows) + logger.status()
    again = MadeUpLogger(run=43, travel_count=1)
    logger.skip(3, missed=True)
    logger.skip(2, dropped=True)
    logger.skip(4)
    lossy = logger.mark(1) + logger.samples(rows) + logger.status()
    bare = again.describe() + again.samples(readings(12, again.channels)) + again.status()
    begin = frame(RECORDING_BODY)
    return [begin + first + lossy, begin + first + bare, bare]


def damaged_frames(content: bytes, random: np.random.Generator) -> bytes:
    """Damage the line one time in three, else what a frame says, with a sum that fits again."""
    if random.integers(0, 3) == 0:
        return damaged(content, random)
    return reframed(content, int(random.integers(0, 1 << 30)), lambda body: damaged(body, random))


def reframed(content: bytes, pick: int, change: Callable[[bytes], bytes]) -> bytes:
    """Take one frame apart, change its body, and put it back whole."""
    frames = content.split(b"\0")
    which = pick % len(frames)
    try:
        body = cobs.decode(frames[which])[:-CRC_BYTES]
    except cobs.DecodeError:
        body = frames[which]
    changed = change(body)[: LONGEST_CONTENT_BYTES - CRC_BYTES]
    frames[which] = frame(changed)[:-1] if changed else b""
    return b"\0".join(frames)


def _written(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


def _parquet(folder: Path) -> bytes:
    import pyarrow as pa
    from pyarrow import parquet

    time_s = np.arange(40) / 500
    table = pa.table({"time_s": time_s, "travel_fl_mm": np.sin(time_s), "note": ["x"] * 40})
    parquet.write_table(table, folder / "sound.parquet")
    return (folder / "sound.parquet").read_bytes()


def _mdf(folder: Path) -> bytes:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from asammdf import MDF, Signal
    time_s = np.arange(40) / 500
    with MDF(version="4.10") as file:
        file.append([Signal(np.sin(time_s), time_s, name="travel_fl_mm", unit="mm")])
        file.append([Signal(time_s[:4], time_s[:4] * 9, name="speed_mps", unit="m/s")])
        file.save(folder / "sound.mf4", overwrite=True)
    return (folder / "sound.mf4").read_bytes()


class AtOnce:
    """Stands in for a pool of threads: waking one takes longer than hashing a small file."""

    def __init__(self, **_: Any) -> None:
        pass

    def __enter__(self) -> AtOnce:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def submit(self, task: Callable[..., object], *args: object) -> Future[object]:
        """Do a task now."""
        done: Future[object] = Future()
        done.set_result(task(*args))
        return done


def in_a_fork(command: list[str], **_: Any) -> subprocess.CompletedProcess[bytes]:
    """Do in a forked process what would start a new one, which takes a hundred times longer."""
    from ridelog.ingest import mdf_columns

    with tempfile.TemporaryFile() as words:
        child = os.fork()
        if child == 0:
            status = 1
            os.dup2(words.fileno(), 2)
            try:
                mdf_columns.main(*command[-3:])
                status = 0
            except SystemExit as leaving:
                status = int(leaving.code or 0)
            except BaseException:  # noqa: BLE001 - told as the new process would tell it
                traceback.print_exc()
            finally:
                sys.stderr.flush()
                os._exit(status)
        status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        words.seek(0)
        return subprocess.CompletedProcess(command, status, b"", words.read())


def without_threads_and_processes() -> None:
    """Let what reads do all in this process, which starts neither for a small file."""
    from ridelog.ingest import measurement_file, read

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import asammdf  # noqa: F401 - so that forks have it
    read.ThreadPoolExecutor = AtOnce  # type: ignore[assignment,misc]
    measurement_file.subprocess.run = in_a_fork  # type: ignore[assignment]


def damaged(content: bytes, random: np.random.Generator) -> bytes:
    """Damage a file in one to four places."""
    for _ in range(random.integers(1, 5)):
        place = int(random.integers(0, len(content) + 1))
        length = int(random.integers(0, 40))
        way = random.integers(0, 6)
        if way == 0:
            piece = random.bytes(int(random.integers(1, 12)))
        elif way == 1:
            piece = PIECES[random.integers(0, len(PIECES))]
        elif way == 2:  # double a part
            length, piece = 0, content[place : place + length]
        elif way == 3:  # cut the rest off
            length, piece = len(content), b""
        elif way == 4 and content:  # flip one bit
            length, piece = 1, bytes([content[place - 1] ^ 1 << int(random.integers(0, 8))])
        else:
            piece = b""
        content = content[:place] + piece + content[place + length :]
    return content[:20_000]


def fuzz(every: list[Kind], count: int, seed: int, folder: Path) -> None:
    """Damage and read `count` files in turn; outcomes and failures are kept with their kinds."""
    for number in range(count):
        kind = every[number % len(every)]
        if number // len(every) % kind.one_in:
            continue
        random = np.random.default_rng([seed, number])
        content = (kind.damage or damaged)(
            kind.corpus[random.integers(0, len(kind.corpus))], random
        )
        path = _written(folder / "damaged.bin", content)
        try:
            found = str(kind.read(path))
        except Exception as error:  # noqa: BLE001 - whatever it is, it is what we look for
            kind.failures.append(
                f"{type(error).__name__}: {error} (number {number}) {content[:80]!r}"
            )
            (folder / f"failure-{kind.name}-{number}").write_bytes(content)
            continue
        if found not in kind.outcomes:
            kind.corpus.append(content)
        kind.outcomes[found] += 1


def report(every: list[Kind]) -> str:
    """Write one line per kind, and every failure."""
    lines = []
    for kind in every:
        read = sum(times for found, times in kind.outcomes.items() if "read" in found)
        total = kind.outcomes.total() + len(kind.failures)
        lines.append(
            f"{kind.name:8s} {total} damaged: {read} read in one way or another, "
            f"{kind.outcomes.total() - read} refused, {len(kind.outcomes)} outcomes, "
            f"{len(kind.failures)} failures"
        )
        lines += [f"    {failure}" for failure in kind.failures[:20]]
    return "\n".join(lines)


def main(count: int, seed: int) -> None:
    """Fuzz and print."""
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    every = kinds(folder)
    without_threads_and_processes()
    started = time.perf_counter()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        fuzz(every, count, seed, folder)
    sys.stdout.write(f"{report(every)}\n{time.perf_counter() - started:.0f} s, files in {folder}\n")


if __name__ == "__main__":
    main(*(int(word) for word in (*sys.argv[1:], *("1000000", "1")[len(sys.argv) - 1 :])))
