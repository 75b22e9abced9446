"""The firmware's tests need a cross compiler and an emulator; without them they are skipped.

RIDELOG_REQUIRE_FIRMWARE=1 makes them fail instead, so that the one check cannot pass without them.
"""

import os
import shutil
from pathlib import Path

import numpy as np
import pytest

from tests.firmware.emulated import Bench, build_board, write_waves

NEEDED = (
    ("gcc-avr", lambda: shutil.which("avr-gcc")),
    ("avr-libc", lambda: Path("/usr/lib/avr/include/avr/io.h").exists()),
    ("libsimavr-dev", lambda: Path("/usr/include/simavr/sim_avr.h").exists()),
    ("gcc", lambda: shutil.which("gcc")),
    ("make", lambda: shutil.which("make")),
)


@pytest.fixture(scope="session")
def bench(tmp_path_factory):
    missing = [package for package, there in NEEDED if not there()]
    if missing:
        words = f"needs the Debian packages {', '.join(missing)}"
        if os.environ.get("RIDELOG_REQUIRE_FIRMWARE") == "1":
            pytest.fail(words)
        pytest.skip(words)
    folder = tmp_path_factory.mktemp("firmware")
    return Bench(folder=folder, board=build_board(folder))


@pytest.fixture(scope="session")
def waves(bench):
    """Every input its own sine, within range, at 4 kHz for 3 s."""
    time_s = np.arange(12000) / 4000
    sines = [np.sin(2 * np.pi * (2.3 + 1.7 * k) * time_s + k) for k in range(14)]
    path = bench.folder / "sines.f32"
    columns = {k: 2.5 + (1.0 + 0.15 * k) * sines[k] for k in range(8)}
    columns |= {k: (0.5 + 0.4 * (k - 8)) * sines[k] for k in range(8, 14)}
    write_waves(path, columns)
    return path, time_s, columns
