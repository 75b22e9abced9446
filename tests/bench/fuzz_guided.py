"""Fuzz every reader guided by coverage: inputs that run new lines of ridelog are damaged further.

Run as ``python -m tests.bench.fuzz_guided [million] [seed]`` from the top of the tree (0.1 for a
tenth of the inputs), or with a kind and a count for one kind alone. Needs atheris, which drives
libFuzzer; it is no part of any extra. Each kind has a process of its own. Packed files are also
damaged inside and packed again, and recordings inside their frames, for a checksum would stop
everything else at the door. Prints one line per kind, and every failure once, with the file that
causes it.
"""

from __future__ import annotations

import gzip
import io
import json
import os
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

# Inputs of each kind in a million: what has most to read has most to get wrong.
SHARES = {
    "recording": 60_000,
    "nmea": 110_000,
    "mdf": 5_000,
    "text": 230_000,
    "gpx": 110_000,
    "packed": 130_000,
    "parquet": 85_000,
    "car": 140_000,
    "setup": 130_000,
}
LONGEST_BYTES = 6000
LONGEST_BODY_BYTES = 251
AT_ONCE = 6000
WORDS = (
    "time_s",
    "travel_fl_mm",
    "body_fl_g",
    "speed_kph",
    "Date",
    "nan",
    "1e9",
    "-",
    "$GPRMC,",
    "<trkpt ",
    "</trkseg>",
    '"12 mm"',
    "[logger.channels]",
    "points = [[",
    "#",
    ";",
    "2026-05-02T10:00:00Z",
    "\\x00",
    "\\xff\\xfe",
    "\\xef\\xbb\\xbf",
)


def repacked(data: bytes, longest: int, seed: int, mutate: Callable[[bytes, int], bytes]) -> bytes:
    """Damage what is inside a packed file two times in three, else the file itself."""
    made = mutate(data, longest) if seed % 3 == 0 else inside_out(data, longest, mutate)
    return made if len(made) <= longest else data[:longest]


def inside_out(data: bytes, longest: int, mutate: Callable[[bytes, int], bytes]) -> bytes:
    """Unpack, damage, pack again."""
    try:
        if data[:2] == b"\x1f\x8b":
            inside = zlib.decompress(data, wbits=31)
            return gzip.compress(mutate(inside, LONGEST_BYTES), 1, mtime=0)
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            inside = archive.read(archive.namelist()[0])
    except Exception:  # noqa: BLE001 - too damaged to be taken apart
        return mutate(data, longest)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("drive.csv", mutate(inside, LONGEST_BYTES))
    return packed.getvalue()


def reframed_inside(
    data: bytes, longest: int, seed: int, mutate: Callable[[bytes, int], bytes]
) -> bytes:
    """Damage what a frame of a recording says two times in three, else the line itself."""
    from tests.bench.fuzz_readers import reframed

    if seed % 3 == 0:
        return mutate(data, longest)
    return reframed(data, seed // 3, lambda body: mutate(body, LONGEST_BODY_BYTES))[:longest]


class Watch:
    """Reads inputs of one kind, counts them, keeps failures, and ends the process after `runs`."""

    def __init__(self, kind: Any, runs: int, folder: Path) -> None:
        self.kind, self.runs, self.folder = kind, runs, folder
        self.count = 0
        self.failures: dict[str, str] = {}
        self.turn = len(list(folder.glob("failure-*")))
        self.path = folder / "damaged.bin"

    def read(self, data: bytes) -> None:
        """Read one input."""
        self.count += 1
        self.path.write_bytes(data)
        try:
            self.kind.outcomes[str(self.kind.read(self.path))] += 1
        except Exception as error:  # noqa: BLE001 - whatever it is, it is what we look for
            place = traceback.extract_tb(error.__traceback__)[-1]
            name = f"{type(error).__name__} at {place.name}:{place.lineno}"
            if name not in self.failures:
                kept = self.folder / f"failure-{self.turn + len(self.failures)}.bin"
                kept.write_bytes(data)
                self.failures[name] = f"{name}: {str(error)[:200]} ({kept})"
        if self.count % 1000 == 0 or self.count >= self.runs:
            self._write()
        if self.count >= self.runs:
            os._exit(0)

    def _write(self) -> None:
        outcomes = self.kind.outcomes
        read = sum(times for found, times in outcomes.items() if "read" in found)
        summary = {
            "inputs": self.count,
            "read": read,
            "refused": outcomes.total() - read,
            "outcomes": len(outcomes),
            "failures": list(self.failures.values()),
        }
        (self.folder / "summary.json").write_text(json.dumps(summary))


def one_kind(name: str, runs: int, seed: int, folder: Path) -> None:
    """Fuzz one kind in this process, which ends here."""
    import atheris

    with atheris.instrument_imports(include=["ridelog"]):
        from tests.bench.fuzz_readers import kinds, without_threads_and_processes

    without_threads_and_processes()
    corpus = folder / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    kind = next(kind for kind in kinds(folder) if kind.name == name)
    for number, content in enumerate(kind.corpus):
        (corpus / f"sound-{number}").write_bytes(content)
    words = folder / "words.dict"
    quoted = [word.replace('"', '\\"') for word in WORDS]
    words.write_text("".join(f'"{word}"\n' for word in quoted))
    watch = Watch(kind, runs, folder)
    options = [f"-seed={seed}", f"-max_len={LONGEST_BYTES}", f"-dict={words}", "-verbosity=0"]
    how = {}
    inside = {"packed": repacked, "recording": reframed_inside}.get(name)
    if inside:
        how["custom_mutator"] = lambda data, longest, salt: inside(
            data, longest, salt, atheris.Mutate
        )
    warnings.simplefilter("error")
    atheris.Setup([sys.argv[0], *options, "-timeout=300", str(corpus)], watch.read, **how)
    atheris.Fuzz()


def main(million: float, seed: int) -> None:
    """Fuzz all kinds one after the other, and print."""
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    total = 0
    for name, share in SHARES.items():
        started = time.perf_counter()
        summaries, endings = in_turns(name, round(million * share), seed, folder / name)
        counts = {
            key: sum(summary[key] for summary in summaries) for key in ("inputs", "read", "refused")
        }
        failures = [failure for summary in summaries for failure in summary["failures"]]
        outcomes = max(summary["outcomes"] for summary in summaries)
        total += counts["inputs"]
        took = time.perf_counter() - started
        sys.stdout.write(
            f"{name:8s} {counts['inputs']} inputs: {counts['read']} read, "
            f"{counts['refused']} refused, {outcomes} outcomes, "
            f"{len(failures)} failures, {took:.0f} s\n"
        )
        sys.stdout.writelines(f"    {line}\n" for line in (*endings, *failures))
        sys.stdout.flush()
    sys.stdout.write(f"{total} inputs, files in {folder}\n")


def in_turns(
    name: str, runs: int, seed: int, folder: Path
) -> tuple[list[dict[str, Any]], list[str]]:
    """Fuzz one kind, a few thousand inputs a process: own mutators leak, and 2 GB end a process."""
    summaries, endings = [], []
    for turn, start in enumerate(range(0, runs, AT_ONCE)):
        count = str(min(AT_ONCE, runs - start))
        command = [sys.executable, "-m", __spec__.name, name, count, str(seed + 1000 * turn)]
        ended = subprocess.run([*command, str(folder)], check=False, capture_output=True)
        summaries.append(json.loads((folder / "summary.json").read_text()))
        if ended.returncode:
            endings.append(f"ended with {ended.returncode}: {ended.stderr[-500:]!r}")
    return summaries, endings


if __name__ == "__main__":
    if len(sys.argv) > 3:
        one_kind(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), Path(sys.argv[4]))
    else:
        main(*(float(sys.argv[1]) if len(sys.argv) > 1 else 1.0, int((*sys.argv, "1", "1")[2])))
