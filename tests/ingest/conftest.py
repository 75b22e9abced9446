"""A small log whose numbers are known, to be written out in every layout people meet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from ridelog.car.description import Logger
from ridelog.ingest.read import read_log
from ridelog.recording import RawRecording


@dataclass(frozen=True, slots=True)
class SmallLog:
    """Fifty samples at 500 Hz: travel in mm and body acceleration in m/s2, signed, never tidy."""

    time_s: np.ndarray
    travel_mm: np.ndarray
    body_mps2: np.ndarray

    def rows(self, *, delimiter: str = ",", decimal: str = ".", end: str = "\n") -> str:
        table = zip(self.time_s, self.travel_mm, self.body_mps2, strict=True)
        lines = [delimiter.join(f"{cell:.4f}" for cell in row) for row in table]
        return end.join(line.replace(".", decimal) for line in lines) + end

    def check(self, raw: RawRecording) -> None:
        np.testing.assert_allclose(raw.time_s, self.time_s, atol=1e-12)
        np.testing.assert_allclose(raw.channels["travel_fl"] * 1000, self.travel_mm, atol=1e-9)
        np.testing.assert_allclose(raw.channels["body_fl"], self.body_mps2, atol=1e-12)
        assert raw.source.rows_read == len(self.time_s)


@pytest.fixture
def small() -> SmallLog:
    random = np.random.default_rng(20260502)
    return SmallLog(
        time_s=np.round(np.arange(50) * 0.002, 4),
        travel_mm=np.round(random.normal(0, 20, 50), 4),
        body_mps2=np.round(random.normal(9.8, 2, 50), 4),
    )


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., RawRecording]:
    """Write a log's text (or bytes) and read it back."""

    def write_and_read(
        content: str | bytes, logger: Logger | None = None, name: str = "drive.csv"
    ) -> RawRecording:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_log(path, logger or Logger())

    return write_and_read
