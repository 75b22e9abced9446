"""What analyzing a log costs beside plain imports and plain reading, in CPU time and memory.

Run it by hand: ``python tests/bench/speed_analyze.py`` (Linux only; some minutes). Every ratio is
of two things done in turn, so that other work on the machine weighs on both; its median is printed.
The logs are simulated from a seed, and what the analysis says of them is held against the truth.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parent))

from fleet_cache import cached_fleet

from ridelog.recording import AXLES
from ridelog.simulate.files import car_toml
from ridelog.simulate.log import SimulatedLog

HELP_LIMIT, IMPORTS_LIMIT, READ_LIMIT, MEMORY_LIMIT = 1.5, 2.0, 4.0, 3.0
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
RIDELOG = "from ridelog.cli.main import main; main()"

IN_PROCESS = """
import sys, time
from pathlib import Path
import pandas as pd
from ridelog.car.load import load_car
from ridelog.runs.analyze import analyze_log
small, log = Path(sys.argv[1]), Path(sys.argv[2])
car = load_car(log.with_name("car.toml"))
peak = lambda: int(Path("/proc/self/status").read_text().partition("VmHWM:")[2].split()[0]) / 1024
def cost(task):
    start = time.process_time(); task(); return time.process_time() - start
analyze_log(small, car)
before = peak()
analyze_log(log, car)
grown = peak() - before
turns = [(cost(lambda: analyze_log(log, car)), cost(lambda: pd.read_csv(log))) for _ in range(7)]
print(grown, *(value for turn in turns for value in turn))
"""


def write_log(folder: Path, log: SimulatedLog, seconds: int) -> Path:
    """Write a log of some length, the drive repeated as often as it takes, beside its car file."""
    folder.mkdir()
    (folder / "car.toml").write_text(car_toml(log.car), encoding="utf-8")
    count = seconds * 500
    table = {name: np.resize(np.round(values, 5), count) for name, values in log.columns.items()}
    table["time_s"] = np.arange(count) / 500
    path = folder / "drive.csv"
    pd.DataFrame(table).to_csv(path, index=False)
    return path


def cpu_s(words: list[str]) -> float:
    """Processor time of a fresh process."""
    before = os.times()
    subprocess.run(
        [sys.executable, *words], check=True, capture_output=True, env=os.environ | ONE_THREAD
    )
    after = os.times()
    return (after.children_user - before.children_user) + (
        after.children_system - before.children_system
    )


def wall_s(words: list[str]) -> float:
    """Time that passes while a fresh process runs."""
    start = time.perf_counter()
    cpu_s(words)
    return time.perf_counter() - start


def compare(
    what: str, ours: list[str], plain: list[str], limit: float, clock: Callable[[list[str]], float]
) -> None:
    """Print the costs of two commands done in turn, and the median of their ratios."""
    turns = [(clock(ours), clock(plain)) for _ in range(9)]
    report(what, turns, limit)


def report(what: str, turns: list[tuple[float, float]], limit: float) -> None:
    ours, plain = (statistics.median(side) for side in zip(*turns, strict=True))
    ratio = statistics.median(one / other for one, other in turns)
    sys.stdout.write(f"{what}: {ours:.3f} s against {plain:.3f} s, x{ratio:.2f} (limit {limit})\n")


def check(log: SimulatedLog, found: Path) -> None:
    """Hold the results against the truth: body frequency and damping ratio of both axles."""
    results = json.loads(found.read_text(encoding="utf-8"))
    for axle in AXLES:
        for key in ("body_frequency_hz", "damping_ratio"):
            estimate = results["axles"][axle][key]
            truth = getattr(log.truth.axles[axle], key)
            half = (estimate["high"] - estimate["low"]) / 2
            # 95 % intervals may miss, but never by much
            assert abs(estimate["value"] - truth) < 2.5 * half, (axle, key, estimate, truth)


def bench_long(small: Path, path: Path) -> None:
    """Ten minutes: against pandas' own reading of the file, and the peak of memory."""
    done = subprocess.run(
        [sys.executable, "-c", IN_PROCESS, str(small), str(path)],
        check=True,
        capture_output=True,
        text=True,
        env=os.environ | ONE_THREAD,
    )
    grown_mib, *costs = map(float, done.stdout.split())
    turns = list(zip(costs[::2], costs[1::2], strict=True))
    report("600 s log, analysis against read_csv, CPU", turns, READ_LIMIT)
    table_mib = 13 * 300_000 * 8 / 2**20
    sys.stdout.write(
        f"600 s log: peak grew by {grown_mib:.0f} MiB, table {table_mib:.0f} MiB,"
        f" x{grown_mib / table_mib:.2f} (limit {MEMORY_LIMIT})\n"
    )


def main() -> None:
    log = cached_fleet("nonlinear", seed=101, count=1)[0]
    help_page = ["-c", f"import sys; sys.argv[1:] = ['--help']; {RIDELOG}"]
    compare("--help, wall", help_page, ["-c", "import click"], HELP_LIMIT, wall_s)
    with tempfile.TemporaryDirectory() as folder:
        path = write_log(Path(folder) / "minute", log, 60)
        found, page = path.with_suffix(".json"), path.with_suffix(".html")
        words = ["-c", RIDELOG, "analyze", str(path), "--json", str(found)]
        imports = "import pandas, scipy.signal"
        compare("analyze 60 s, CPU", words, ["-c", imports], IMPORTS_LIMIT, cpu_s)
        check(log, found)
        words += ["--report", str(page)]
        imports += ", matplotlib.figure"
        compare("with --report, CPU", words, ["-c", imports], IMPORTS_LIMIT, cpu_s)
        bench_long(path, write_log(Path(folder) / "long", log, 600))


if __name__ == "__main__":
    main()
