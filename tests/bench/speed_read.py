"""How long reading a log takes beside plain pandas, and how much memory a ten-minute log needs.

Run it by hand: ``python tests/bench/speed_read.py``. Prints the best of many turns, because other
work on the machine only ever adds. The log is made from a seed.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from ridelog.car.description import Logger
from ridelog.ingest.read import read_log

CORNERS = ("fl", "fr", "rl", "rr")
CHANNELS = (
    *(f"travel_{corner}_mm" for corner in CORNERS),
    *(f"body_{corner}_mps2" for corner in CORNERS),
    *(f"hub_{corner}_mps2" for corner in CORNERS),
    "speed_mps",
)


def write_log(path: Path, seconds: int) -> None:
    random = np.random.default_rng(1)
    table = {"time_s": np.arange(seconds * 500) / 500}
    table |= {name: np.round(random.normal(0, 20, seconds * 500), 5) for name in CHANNELS}
    pd.DataFrame(table).to_csv(path, index=False)


def best_s(task: Callable[[], object], clock: Callable[[], float], turns: int = 30) -> float:
    taken = []
    for _ in range(turns):
        start = clock()
        task()
        taken.append(clock() - start)
    return min(taken)


def peak_growth_mib(path: Path) -> float:
    """Read the log in a fresh process, after a small one has loaded all it needs (Linux only)."""
    script = (
        "import sys; from pathlib import Path\n"
        "from ridelog.car.description import Logger; from ridelog.ingest.read import read_log\n"
        "status = lambda: Path('/proc/self/status').read_text()\n"
        "peak = lambda: int(status().partition('VmHWM:')[2].split()[0])\n"
        "read_log(Path(sys.argv[1]), Logger()); before = peak()\n"
        "read_log(Path(sys.argv[2]), Logger()); print((peak() - before) / 1024)\n"
    )
    small = path.with_name("small.csv")
    write_log(small, 2)
    command = [sys.executable, "-c", script, str(small), str(path)]
    return float(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drive.csv"
        write_log(path, 60)
        for name, clock in (("wall", time.perf_counter), ("CPU", time.process_time)):
            plain = best_s(lambda: pd.read_csv(path), clock)
            ours = best_s(lambda: read_log(path, Logger()), clock)
            sys.stdout.write(
                f"60 s log, {name}: pandas {plain:.4f} s, ours {ours:.4f} s, x{ours / plain:.2f}\n"
            )
        write_log(path, 600)
        raw = read_log(path, Logger())
        assert raw.source.rows_read == 300_000
        table_mib = raw.time_s.nbytes * (1 + len(raw.channels)) / 2**20
        peak_mib = peak_growth_mib(path)
        sys.stdout.write(
            f"600 s log: peak grew by {peak_mib:.0f} MiB, table {table_mib:.0f} MiB,"
            f" x{peak_mib / table_mib:.2f}\n"
        )


if __name__ == "__main__":
    main()
