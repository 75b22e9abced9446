"""What the checks look at: signals on the even base, with gravity still in them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ridelog.condition.order_statistics import median
from ridelog.recording import (
    BODY_CHANNELS,
    CORNERS,
    HUB_CHANNELS,
    TRAVEL_CHANNELS,
    BoolArray,
    FloatArray,
    Problem,
)

KINDS: Mapping[str, tuple[str, ...]] = {
    "travel": TRAVEL_CHANNELS,
    "body": BODY_CHANNELS,
    "hub": HUB_CHANNELS,
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Signals:
    """Channels on one even base and, per channel, where they cannot be believed."""

    sample_rate_hz: float
    channels: Mapping[str, FloatArray]
    doubtful: Mapping[str, BoolArray]
    missing: BoolArray

    @property
    def sample_count(self) -> int:
        """Number of samples."""
        return len(self.missing)

    def believable(self, name: str) -> BoolArray:
        """Where a channel has readings that no check has doubted, shape (n,)."""
        doubt = self.doubtful.get(name)
        return ~self.missing if doubt is None else ~(self.missing | doubt)

    def with_channel(self, name: str, values: FloatArray) -> Signals:
        """Return a copy with one channel's readings replaced."""
        return replace(self, channels={**self.channels, name: values})

    def with_doubt(self, name: str, where: BoolArray) -> Signals:
        """Return a copy with more of one channel in doubt."""
        before = self.doubtful.get(name)
        doubt = where if before is None else before | where
        return replace(self, doubtful={**self.doubtful, name: doubt})

    def without(self, names: Iterable[str]) -> Signals:
        """Return a copy without some channels."""
        gone = set(names)
        kept = {name: values for name, values in self.channels.items() if name not in gone}
        return replace(self, channels=kept)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Checked:
    """Outcome of one check: signals with what it mended or doubted, and what it found."""

    signals: Signals
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()


def kind_of(name: str) -> str:
    """Name the kind of a channel: ``travel``, ``body``, ``hub``, else the channel's own name."""
    kind, _, corner = name.partition("_")
    return kind if corner in CORNERS else name


def siblings_of(name: str, present: Iterable[str]) -> tuple[str, ...]:
    """Name the other channels of the same kind that are present."""
    of_kind = KINDS.get(kind_of(name), ())
    return tuple(other for other in of_kind if other != name and other in set(present))


def robust_spread(values: FloatArray) -> float:
    """Judge the standard deviation by the median distance from the median.

    References
    ----------
    1.4826 makes it equal to the standard deviation for a normal distribution (Rousseeuw & Croux,
    Alternatives to the median absolute deviation, 1993, section 1; constant from memory).
    """
    if len(values) == 0:
        return 0.0
    return 1.4826 * float(median(np.abs(values - median(values))))
