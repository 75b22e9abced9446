"""Run a firmware on the emulated board and read what it sent."""

from __future__ import annotations

import hashlib
import json
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.firmware.line_frames import Line, command, read_line

SOURCE = Path(__file__).parents[2] / "firmware_notes" / "firmware"
BOARD_SOURCE = Path(__file__).parent / "board"
WAVE_COLUMNS = 14
CYCLES_PER_TICK = 64
CLOCK_HZ = 16_000_000
DIARY = np.dtype([("time_s", "<f8"), ("what", "<i4"), ("value", "<i4")])


@dataclass(frozen=True)
class Ran:
    """What came down the line, the board's own account, and when it read what."""

    data: bytes
    summary: dict[str, float]
    diary: np.ndarray

    @property
    def line(self) -> Line:
        return read_line(self.data)

    def read_at(self, what: int) -> tuple[np.ndarray, np.ndarray]:
        """Instants [s] and values of one input's readings."""
        chosen = self.diary[self.diary["what"] == what]
        return chosen["time_s"], chosen["value"]


@dataclass(frozen=True)
class Bench:
    """The compiled board, and firmware compiled as asked, each kind once."""

    folder: Path
    board: Path

    def firmware(self, options: str = "", channel_table: str | None = None) -> Path:
        """Build the firmware with values of config.h changed, or another channel table."""
        name = hashlib.sha256(f"{options} {channel_table}".encode()).hexdigest()[:12]
        source = SOURCE
        if channel_table is not None:
            source = self.folder / f"source-{name}"
            source.mkdir(exist_ok=True)
            for file in (*SOURCE.glob("*.[ch]"), SOURCE / "Makefile"):
                (source / file.name).write_bytes(file.read_bytes())
            (source / "channel_table.h").write_text(channel_table)
        build = self.folder / f"firmware-{name}"
        if not (build / "logger.elf").exists():
            made = make(source, build, options)
            assert made.returncode == 0, made.stderr
        return build / "logger.elf"

    def run(
        self,
        *words: str,
        firmware: Path | None = None,
        commands: tuple[tuple[float, bytes], ...] = (),
        diary: bool = False,
    ) -> Ran:
        """Run to the end of `--seconds`; `commands` are sent at their time [s]."""
        out, notes = self.folder / "line.bin", self.folder / "diary.bin"
        call = [str(self.board), str(firmware or self.firmware()), "--out", str(out), *words]
        for at_s, data in commands:
            call += ["--send", f"{at_s}:{data.hex()}"]
        call += ["--trace", str(notes)] if diary else []
        done = subprocess.run(call, capture_output=True, text=True, check=True, timeout=120)
        seen = np.fromfile(notes, DIARY) if diary else np.empty(0, DIARY)
        return Ran(out.read_bytes(), json.loads(done.stdout), seen)


def make(source: Path, build: Path, options: str = "") -> subprocess.CompletedProcess[str]:
    call = ["make", "-C", str(source), f"BUILD={build}", f"OPTIONS={options}"]
    return subprocess.run(call, capture_output=True, text=True, check=False)


def build_board(folder: Path) -> Path:
    board = folder / "board"
    sources = sorted(str(path) for path in BOARD_SOURCE.glob("*.c"))
    flags = ["-O2", "-Wall", "-Werror", "-Wno-unused-parameter"]
    call = ["gcc", *flags, "-o", str(board), *sources, "-lsimavr", "-lutil", "-lm"]
    made = subprocess.run(call, capture_output=True, text=True, check=False)
    assert made.returncode == 0, made.stderr
    return board


def started(at_s: float = 0.05) -> tuple[float, bytes]:
    return at_s, b"\0" + command(2)


def write_waves(path: Path, columns: dict[int, np.ndarray]) -> None:
    """Volts at pins 0 to 7, g on axes x, y, z of the SPI part (8-10) and the I2C part (11-13)."""
    rows = len(next(iter(columns.values())))
    table = np.zeros((rows, WAVE_COLUMNS), dtype="<f4")
    for place, values in columns.items():
        table[:, place] = values
    table.tofile(path)
