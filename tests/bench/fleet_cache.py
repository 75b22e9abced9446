"""Simulated fleets kept between runs, so that tests and benchmarks do not wait for them twice.

`cached_fleet("nonlinear", seed=1, count=12)` simulates once and keeps the result in the folder
named by RIDELOG_FLEET_CACHE, or in the system's folder for temporary files. The name of the file
holds a hash of the source and of the settings, so that an old fleet is never taken for a new one.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import tempfile
from pathlib import Path

import numpy as np
import scipy

import ridelog
from ridelog.simulate.fleet import simulate_fleet
from ridelog.simulate.log import SimulatedLog


def cached_fleet(
    situation: str, *, seed: int, count: int, duration_s: float | None = None
) -> tuple[SimulatedLog, ...]:
    """Return a fleet as `simulate_fleet` does, from the cache where it has been made before."""
    path = cache_folder() / (
        f"{situation}-{seed}-{count}-{duration_s or 'usual'}-{_source_hash()}.pickle"
    )
    if path.is_file():
        # Our own file, in a folder of our own: safe to unpickle.
        with path.open("rb") as stream:
            logs: tuple[SimulatedLog, ...] = pickle.load(stream)
        return logs
    logs = simulate_fleet(situation, seed=seed, count=count, duration_s=duration_s)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    # Written aside and renamed: two runs at once never see half a file.
    part = path.with_suffix(f".{os.getpid()}.part")
    with part.open("wb") as stream:
        pickle.dump(logs, stream, protocol=pickle.HIGHEST_PROTOCOL)
    part.replace(path)
    return logs


def cache_folder() -> Path:
    """Where fleets are kept."""
    named = os.environ.get("RIDELOG_FLEET_CACHE")
    return Path(named) if named else Path(tempfile.gettempdir()) / f"ridelog-fleets-{os.getuid()}"


def _source_hash() -> str:
    digest = hashlib.sha256(f"{np.__version__} {scipy.__version__}".encode())
    package = Path(ridelog.__file__).parent
    sources = [p for p in sorted((package / "simulate").glob("*.py")) if "demo" not in p.name]
    for path in [*sources, package / "car" / "description.py"]:
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]
