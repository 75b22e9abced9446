"""Writes simulated logs as the files an owner would have."""

from __future__ import annotations

import gzip
import hashlib
import json
from pathlib import Path

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.errors import FileError
from ridelog.simulate.log import SimulatedLog


def write_new(path: Path, text: str) -> None:
    """Write a text file that must not exist yet.

    Raises
    ------
    FileError
        If it does, or if the folder cannot be written to.
    """
    try:
        with path.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:
        raise FileError(path, "is there already; nothing was overwritten") from None
    except OSError as error:
        raise FileError(path, f"could not be written: {error.strerror}") from None


def write_log_csv(path: Path, log: SimulatedLog, decimals: int = 5) -> str:
    """Write a log as canonical CSV, packed where the name ends in ``.gz``; return its SHA-256.

    Parameters
    ----------
    path : Path
        A file that does not exist yet.
    log : SimulatedLog
        The log.
    decimals : int
        Decimals of every number.
    """
    data = csv_text(log, decimals).encode()
    if path.suffix == ".gz":
        # No time stamp inside the pack: the same log is the same file.
        data = gzip.compress(data, mtime=0)
    try:
        with path.open("xb") as stream:
            stream.write(data)
    except FileExistsError:
        raise FileError(path, "is there already; nothing was overwritten") from None
    except OSError as error:
        raise FileError(path, f"could not be written: {error.strerror}") from None
    return hashlib.sha256(data).hexdigest()


def csv_text(log: SimulatedLog, decimals: int = 5) -> str:
    """Return a log as canonical CSV text, lost cells empty.

    Notes
    -----
    A ten-bit sensor has few different readings: each is spelled once, which is five times quicker
    than spelling every cell.
    """
    columns = []
    for values in log.columns.values():
        readings, places = np.unique(np.round(values, decimals), return_inverse=True)
        spelled = np.array(["" if np.isnan(r) else repr(float(r)) for r in readings], dtype=object)
        columns.append(spelled[places].tolist())
    rows = map(",".join, zip(*columns, strict=True))
    return "\n".join([",".join(log.columns), *rows, ""])


def truth_json(log: SimulatedLog) -> str:
    """Return the true values of a log as JSON text."""
    return json.dumps(log.truth.as_json(), indent=1) + "\n"


def car_toml(car: Car, remark: str = "") -> str:
    """Return a car file: what the owner states, in the units of the trade.

    Parameters
    ----------
    car : Car
        The car, as stated.
    remark : str
        Lines for the head of the file, without ``#``.
    """
    head = "".join(f"# {line}\n" for line in remark.splitlines())
    head += f'[car]\nname = "{car.name}"\nwheelbase = "{car.wheelbase_m:.3f} m"\n'
    return head + _axle_toml("front", car.front) + _axle_toml("rear", car.rear)


def _axle_toml(name: str, axle: Axle) -> str:
    lines = [
        f"\n[{name}]",
        f'layout = "{axle.layout}"',
        f'track = "{axle.track_m:.3f} m"',
    ]
    if axle.damper_spacing_m is not None:
        lines.append(f'damper_spacing = "{axle.damper_spacing_m:.3f} m"')
    lines += [
        f'sprung_mass = "{axle.sprung_mass_kg:.1f} kg"     # both corners',
        f'unsprung_mass = "{axle.unsprung_mass_kg:.1f} kg"',
        f'spring_rate = "{axle.spring_rate_n_per_m / 1000:.2f} N/mm"   # catalogue figure, each',
        f"motion_ratio = {axle.motion_ratio:.4f}        # damper travel / wheel travel",
    ]
    if axle.tyre_rate_n_per_m is not None:
        lines.append(f'tyre_rate = "{axle.tyre_rate_n_per_m / 1000:.1f} N/mm"')
    lengths = {
        "bump_gap": axle.bump_gap_m,
        "droop_gap": axle.droop_gap_m,
        "perch_thread_pitch": axle.perch_thread_pitch_m,
    }
    for key, length in lengths.items():
        if length is not None:
            lines.append(f'{key} = "{length * 1000:.1f} mm"')
    if axle.clicks is not None:
        lines.append(f"clicks = {axle.clicks}               # highest click, from full soft")
    if axle.target_body_frequency_hz is not None:
        lines.append(f'target_body_frequency = "{axle.target_body_frequency_hz:.2f} Hz"')
    if axle.target_damping_ratio is not None:
        lines.append(f"target_damping_ratio = {axle.target_damping_ratio:.2f}")
    return "\n".join(lines) + "\n"


def setup_toml(log: SimulatedLog, *, date: str, note: str) -> str:
    """Return the setup file beside a log.

    Parameters
    ----------
    log : SimulatedLog
        Its clicks are written, from full soft.
    date : str
        As ``2026-05-02``.
    note : str
        One line.
    """
    clicks = "".join(f"{corner} = {click}\n" for corner, click in log.clicks.items())
    return f'date = {date}\nnote = "{note}"\n\n[clicks]\n{clicks}'
