"""Write a log with one defect and read it back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from ridelog.car.description import Logger
from ridelog.ingest.read import read_log
from ridelog.recording import RawRecording


@pytest.fixture
def read(tmp_path: Path) -> Callable[[str | bytes], RawRecording]:
    def write_and_read(content: str | bytes, name: str = "drive.csv") -> RawRecording:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_log(path, Logger())

    return write_and_read
