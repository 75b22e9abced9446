"""Find where a standing car was pushed, where it was let go and where it came to rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseSettings:
    """How pushes are told from rest; common practice (no source), tried on simulated cars."""

    block_s: float = 0.008  # mean over this: keeps friction's kinks, drops most of the noise
    activity_window_s: float = 0.5  # half a body period of a soft car
    activity_over_rest: float = 4.0  # rms of a push over that of rest
    least_activity_m_per_s2: float = 0.04  # rms below which nothing can be told from a cheap sensor
    least_peak_m_per_s2: float = 0.35  # weaker pushes drown in friction
    high_level: float = 0.5  # of the push's highest: the last rise above it is the letting go
    smooth_s: float = 0.04  # over which the signal is averaged for that
    safe_margin_s: float = 0.03  # from the zero behind that rise to the first start of a decay
    shortest_decay_s: float = 0.4
    longest_decay_s: float = 3.2
    rest_over_quietest: float = 1.3  # activity at rest scatters by 5 %
    rest_s: float = 0.3  # of rest kept behind a decay: it shows where friction held the car


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blocks:
    """Means of the signals over short blocks: `mean` (channels, n), `valid` (n,), length [s].

    `sway_m_per_s` (2, n + 1) is by how much roll makes the left dampers faster than the mean of
    both sides, at the edges of the blocks; None where it is not known.
    """

    mean: FloatArray
    valid: BoolArray
    block_s: float
    sway_m_per_s: FloatArray | None = None

    def count(self, duration_s: float) -> int:
        """Blocks in a duration, at least one."""
        return max(1, round(duration_s / self.block_s))


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """One push, in block numbers; `axle` moved most (0 front, 1 rear).

    It begins at `begin`; a decay from `safe_start` is past the release, and is usable to `end`.
    """

    begin: int
    safe_start: int
    end: int
    axle: int


def block_means(
    signals: FloatArray, valid: BoolArray, sample_rate_hz: float, block_s: float
) -> Blocks:
    """Average signals (channels, n) over whole blocks of about `block_s` [s]."""
    size = max(1, round(block_s * sample_rate_hz))
    count = signals.shape[1] // size
    cut = signals[:, : count * size].reshape(len(signals), count, size)
    good = np.asarray(valid[: count * size].reshape(count, size).all(axis=1))
    return Blocks(mean=cut.mean(axis=2), valid=good, block_s=size / sample_rate_hz)


def running_rms(signal: FloatArray, width: int) -> FloatArray:
    """Rms over a centred window of `width` samples, along the last axis."""
    square = np.cumsum(
        np.pad(signal**2, [(0, 0), (width // 2 + 1, width - width // 2 - 1)], mode="edge"), axis=1
    )
    mean = (square[:, width:] - square[:, :-width]) / width
    mean = np.concatenate([mean, mean[:, -1:]], axis=1)[:, : signal.shape[1]]
    return np.sqrt(np.maximum(mean, 0))


def rest_noise(blocks: Blocks, settings: ReleaseSettings) -> FloatArray:
    """Standard deviation of block means while the car rests, per channel [m/s2]."""
    level = running_rms(blocks.mean, blocks.count(settings.activity_window_s))
    quiet = np.sum(level, axis=0)
    # The quietest quarter shows how quiet rest is; it was picked for being quiet, so the noise
    # itself comes from all that is hardly louder.
    quietest = np.quantile(quiet[blocks.valid], 0.25)
    resting = blocks.valid & (quiet <= settings.rest_over_quietest * quietest)
    return np.asarray(blocks.mean[:, resting].std(axis=1))


def speed_during_pushes(
    acceleration: FloatArray, blocks: Blocks, pushes: Sequence[Push]
) -> FloatArray:
    """Speed (n + 1,) at the edges of blocks from their mean acceleration (n,), 0 between pushes.

    Added up backwards from the end of each push, where the car rests: the sum is best near rest,
    where friction turns on the least speed.
    """
    speed = np.zeros(len(acceleration) + 1)
    for push in pushes:
        inside = slice(push.begin, push.end)
        speed[inside] = -np.cumsum(acceleration[inside][::-1])[::-1] * blocks.block_s
    return speed


def find_pushes(blocks: Blocks, noise: FloatArray, settings: ReleaseSettings) -> tuple[Push, ...]:
    """Find pushes that were followed by a decay.

    Parameters
    ----------
    blocks : Blocks
        Block means of body acceleration [m/s2], one row per axle, offset removed.
    noise : FloatArray
        Noise of the block means [m/s2], shape (channels,).
    settings : ReleaseSettings
        Thresholds.

    Returns
    -------
    tuple of Push
        In order of time.

    References
    ----------
    Derived here: activity is the running rms. A body pressed down and let go jumps up, so the
    release lies on the last great rise of acceleration; where that comes back to zero, the springs
    are near their rest and hands are off.
    """
    level = running_rms(blocks.mean, blocks.count(settings.activity_window_s))
    threshold = np.maximum(settings.activity_over_rest * noise, settings.least_activity_m_per_s2)
    active = np.asarray((level > threshold[:, None]).any(axis=0))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], active.astype(int), [0]])))
    stretches = edges.reshape(-1, 2)
    limits = np.append(stretches[1:, 0], len(active))[: len(stretches)]
    found = (
        _push(blocks, settings, int(begin), int(end), int(limit))
        for (begin, end), limit in zip(stretches, limits, strict=True)
    )
    return tuple(push for push in found if push is not None)


def _push(
    blocks: Blocks, settings: ReleaseSettings, begin: int, end: int, limit: int
) -> Push | None:
    stretch = blocks.mean[:, begin:end]
    width = blocks.count(settings.smooth_s)
    peak = running_rms(stretch, width).max(axis=1)
    axle = int(np.argmax(peak))
    if peak[axle] < settings.least_peak_m_per_s2:
        return None
    smooth = np.convolve(stretch[axle], np.ones(width) / width, mode="same")
    let_go = begin + _zero_behind_last_rise(smooth, settings.high_level)
    safe = let_go + blocks.count(settings.safe_margin_s)
    last = min(
        end + blocks.count(settings.rest_s), limit, safe + blocks.count(settings.longest_decay_s)
    )
    missing = np.flatnonzero(~blocks.valid[let_go:last])
    if missing.size:
        last = let_go + int(missing[0])
    if last - safe < blocks.count(settings.shortest_decay_s):
        return None
    return Push(begin=begin, safe_start=safe, end=last, axle=axle)


def _zero_behind_last_rise(signal: FloatArray, level: float) -> int:
    """Where the signal comes down to zero after the last time above `level` of its maximum."""
    last_high = int(np.flatnonzero(signal > level * max(float(signal.max()), 0.0))[-1])
    below = np.flatnonzero(signal[last_high:] <= 0)
    return last_high + int(below[0]) if below.size else last_high
