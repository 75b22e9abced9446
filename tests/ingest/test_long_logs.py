"""Logs that would not fit: the liveliest stretch is kept and the rest told; memory is bounded."""

from __future__ import annotations

import gzip
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from ridelog.car.description import Logger
from ridelog.ingest import rows, table_chunks
from ridelog.ingest.read import read_log

COUNT = 200_000
LIVELY = range(100_000, 150_000)
HEADER = "time_s,travel_fl_mm,body_fl_mps2\n"


def lines() -> list[str]:
    """Travel counts the rows, so that each can be told; the road is rough in the middle."""
    random = np.random.default_rng(8)
    rough = np.where(np.isin(np.arange(COUNT), LIVELY), 3.0, 0.1)
    body = np.round(9.81 + rough * random.standard_normal(COUNT), 3)
    return [f"{i * 0.002:.3f},{i / 1000:.3f},{b}\n" for i, b in enumerate(body)]


@pytest.fixture(scope="module")
def log(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("long") / "long.csv"
    path.write_text(HEADER + "".join(lines()))
    return path


def kept_rows(raw) -> np.ndarray:
    return np.round(raw.channels["travel_fl"] * 1e6).astype(int)


def test_the_liveliest_stretch_that_fits_is_kept_and_the_rest_told(log, monkeypatch):
    monkeypatch.setenv("RIDELOG_MEMORY_MIB", "6")
    raw = read_log(log, Logger())
    kept = kept_rows(raw)
    assert np.all(np.diff(kept) == 1)
    assert kept[0] <= 110_000
    assert kept[-1] >= 140_000
    assert 3 * 8 * 4 * len(kept) <= 6 << 20
    assert raw.source.rows_read + raw.source.rows_skipped_count == COUNT
    said = f"all but rows {kept[0] + 1} to {kept[-1] + 1} left out: the log would not fit"
    assert raw.source.rows_skipped[0].startswith(said)
    np.testing.assert_allclose(raw.time_s, kept * 0.002, atol=1e-9)


def test_the_same_of_a_packed_log_with_torn_lines(tmp_path, monkeypatch):
    damaged = lines()
    for at in (50_000, 125_000, 199_000):
        damaged[at] = damaged[at][:9] + "\n"
    path = tmp_path / "long.csv.gz"
    path.write_bytes(gzip.compress((HEADER + "".join(damaged)).encode(), 1))
    monkeypatch.setenv("RIDELOG_MEMORY_MIB", "6")
    monkeypatch.setattr(rows, "_BLOCK_BYTES", 1 << 20)
    raw = read_log(path, Logger())
    kept = kept_rows(raw)
    assert kept[0] <= 110_000
    assert kept[-1] >= 140_000
    assert 125_000 not in kept
    assert raw.source.rows_read + raw.source.rows_skipped_count == COUNT
    assert "lines 50002, 125002, 199002 left out" in raw.source.rows_skipped[0]


def test_a_log_that_fits_is_read_whole(log, monkeypatch):
    monkeypatch.setenv("RIDELOG_MEMORY_MIB", "64")
    raw = read_log(log, Logger())
    assert raw.source.rows_skipped == ()
    np.testing.assert_array_equal(kept_rows(raw), np.arange(COUNT))


def test_torn_lines_are_found_in_blocks_as_in_one_piece(tmp_path, monkeypatch):
    damaged = lines()[:20_000]
    damaged[7_000] = "14.0\r\n"
    damaged[7_001] = damaged[7_001].replace("\n", "\r\n")
    path = tmp_path / "torn.csv"
    path.write_bytes((HEADER + "".join(damaged)).encode())
    whole = read_log(path, Logger())
    monkeypatch.setattr(rows, "_BLOCK_BYTES", 777)
    pieces = read_log(path, Logger())
    assert pieces.source == whole.source
    assert whole.source.rows_skipped_count == 1
    np.testing.assert_array_equal(pieces.channels["body_fl"], whole.channels["body_fl"])


def test_a_torn_last_line_of_a_long_log_is_left_out(log, tmp_path):
    path = tmp_path / "cut.csv"
    path.write_bytes(log.read_bytes()[:-9])
    raw = read_log(path, Logger())
    assert raw.source.rows_read == COUNT - 1
    assert raw.source.rows_skipped == (f"line {COUNT + 1} left out: the last line may be cut off",)


def test_progress_is_told_from_0_to_1(log, monkeypatch):
    monkeypatch.setattr(table_chunks, "_CHUNK_ROWS", 1 << 14)
    told: list[float] = []
    read_log(log, Logger(), told.append)
    assert told == sorted(told)
    assert len(told) > 10
    assert told[-1] == 1.0


def test_two_passes_are_told_as_one(log, monkeypatch):
    monkeypatch.setattr(table_chunks, "_CHUNK_ROWS", 1 << 14)
    monkeypatch.setenv("RIDELOG_MEMORY_MIB", "6")
    told: list[float] = []
    read_log(log, Logger(), told.append)
    assert told == sorted(told)
    assert told[0] < 0.1
    assert told[-1] == 1.0


LIMITED = """
import resource, sys
from pathlib import Path
import pandas
from ridelog.car.description import Logger
from ridelog.ingest.read import read_log
taken = int(Path("/proc/self/status").read_text().partition("VmSize:")[2].split()[0]) << 10
room = taken + (int(sys.argv[2]) << 20)
resource.setrlimit(resource.RLIMIT_AS, (room, room))
print(read_log(Path(sys.argv[1]), Logger()).source.rows_read)
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no address space is told here")
@pytest.mark.parametrize(("room_mib", "whole"), [(310, False), (400, True)])
def test_a_limit_on_the_process_counts(log, room_mib, whole):
    command = [sys.executable, "-c", LIMITED, str(log), str(room_mib)]
    unnamed = {name: value for name, value in os.environ.items() if name != "RIDELOG_MEMORY_MIB"}
    done = subprocess.run(command, env=unnamed, check=True, capture_output=True, text=True)
    assert (int(done.stdout) == COUNT) == whole


def peak_growth_mib(log: Path, allowed_mib: str) -> float:
    """Peak memory over that of a small log, in a process of its own."""
    script = (
        "import sys; from pathlib import Path; from ridelog.car.description import Logger\n"
        "from ridelog.ingest.read import read_log\n"
        "status = lambda: Path('/proc/self/status').read_text()\n"
        "peak = lambda: int(status().partition('VmHWM:')[2].split()[0])\n"
        "read_log(Path(sys.argv[1]), Logger()); before = peak()\n"
        "read_log(Path(sys.argv[2]), Logger()); print((peak() - before) / 1024)\n"
    )
    small = log.with_name("small.csv")
    small.write_text("".join(log.read_text().splitlines(keepends=True)[:40_000]))
    done = subprocess.run(
        [sys.executable, "-c", script, str(small), str(log)],
        env=dict(os.environ) | {"RIDELOG_MEMORY_MIB": allowed_mib},
        check=True,
        capture_output=True,
        text=True,
    )
    return float(done.stdout)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no peak memory is told here")
def test_less_is_allowed_less_is_held(log):
    bounded, whole = (peak_growth_mib(log, allowed) for allowed in ("2", "400"))
    assert bounded < whole - 2, (bounded, whole)
