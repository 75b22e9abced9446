"""The data that flows: what a file said, and what the estimators see.

Channels carry the contract's names without their unit (``travel_fl``, ``body_rr``, ``cabin``,
``speed``). Inside ridelog every value is SI: travel in m, acceleration in m/s2, speed in m/s.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

CORNERS = ("fl", "fr", "rl", "rr")
AXLES = ("front", "rear")
CORNERS_OF_AXLE: Mapping[str, tuple[str, str]] = {"front": ("fl", "fr"), "rear": ("rl", "rr")}
AXLE_OF_CORNER: Mapping[str, str] = {"fl": "front", "fr": "front", "rl": "rear", "rr": "rear"}

TRAVEL_CHANNELS = tuple(f"travel_{corner}" for corner in CORNERS)
BODY_CHANNELS = tuple(f"body_{corner}" for corner in CORNERS)
HUB_CHANNELS = tuple(f"hub_{corner}" for corner in CORNERS)
VERTICAL_ACCELERATION_CHANNELS = (*BODY_CHANNELS, *HUB_CHANNELS, "cabin", "seat")
HORIZONTAL_ACCELERATION_CHANNELS = ("body_long", "body_lat")
ALL_CHANNELS = (
    *TRAVEL_CHANNELS,
    *VERTICAL_ACCELERATION_CHANNELS,
    *HORIZONTAL_ACCELERATION_CHANNELS,
    "speed",
)

STANDARD_GRAVITY_M_PER_S2 = 9.80665


def channel_kind(name: str) -> str:
    """Kind of a channel: ``travel``, ``acceleration`` or ``speed``.

    Parameters
    ----------
    name : str
        One of `ALL_CHANNELS`.
    """
    if name.startswith("travel_"):
        return "travel"
    return "speed" if name == "speed" else "acceleration"


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where a recording comes from, and what was left out on the way in.

    `rows_skipped` says which lines and why; `rows_skipped_count` says how many, so that
    `rows_read` + `rows_skipped_count` are all rows of the file.
    """

    file: str
    layout: str
    sha256: str = ""
    rows_read: int = 0
    rows_skipped: tuple[str, ...] = ()
    rows_skipped_count: int = 0
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RawRecording:
    """What a log file said, calibrated to SI, with its clock as recorded.

    `time_s` may stand still, run backwards, jitter or jump. Missing cells are NaN.
    Vertical accelerations still contain gravity. `columns` names each channel's column in the file
    and `units` the unit the file or mapping claimed for it. `delays_s` holds delays [s] that the
    car file or the logger states and that are still to be undone: positive where a channel is
    late.
    """

    time_s: FloatArray
    channels: Mapping[str, FloatArray]
    source: Source
    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    delays_s: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch of the log in which samples are missing."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing done to a recording, with its settings, for the record."""

    name: str
    settings: tuple[tuple[str, float | str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording:
    """Clean signals on one uniform time base.

    `time_s` starts at 0 and advances by 1 / `sample_rate_hz`. `valid` is False where samples are
    missing (the channels hold a smooth filler there that no result may rest on). Travel is in m,
    positive in bump, zero at static ride height; accelerations are in m/s2, positive up, without
    gravity and offset. `start_s` is the log's own time at the first sample.
    """

    sample_rate_hz: float
    channels: Mapping[str, FloatArray]
    valid: BoolArray
    source: Source
    start_s: float = 0.0
    gaps: tuple[Gap, ...] = ()
    steps: tuple[Step, ...] = ()

    @property
    def sample_count(self) -> int:
        """Number of samples on the time base."""
        return len(self.valid)

    @property
    def duration_s(self) -> float:
        """Length of the time base in s."""
        return self.sample_count / self.sample_rate_hz

    @property
    def time_s(self) -> FloatArray:
        """Sample times in s, from 0, shape (n,)."""
        return np.arange(self.sample_count) / self.sample_rate_hz

    def has(self, *names: str) -> bool:
        """Whether every named channel is present."""
        return all(name in self.channels for name in names)

    def stack(self, names: Iterable[str]) -> FloatArray:
        """Return the named channels as one array, shape (channels, n)."""
        return np.stack([self.channels[name] for name in names])

    def with_channels(self, channels: Mapping[str, FloatArray], step: Step) -> Recording:
        """Return a copy with other channel data and one step more in its history."""
        return replace(self, channels=dict(channels), steps=(*self.steps, step))


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing wrong with a log, by the contract's codes."""

    code: str
    text: str
    channel: str | None = None
    channels: tuple[str, ...] = ()
    start_s: float | None = None
    end_s: float | None = None
    mended: bool = False


PROBLEM_CODES = (
    "flat",
    "clipped",
    "sign",
    "swapped",
    "scale",
    "late",
    "loose",
    "spikes",
    "noise",
    "zero",
    "gap",
    "clock",
    "slow",
    "unit",
)
