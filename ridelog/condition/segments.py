"""What the car does when: standing, driving steadily, braking and cornering, single bumps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.condition.filters import low_pass
from ridelog.condition.standing import standing_mask
from ridelog.condition.stretches import as_seconds, keep_long_runs, widen
from ridelog.recording import BODY_CHANNELS, HUB_CHANNELS, BoolArray, FloatArray, Recording


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentSettings:
    """`manoeuvre_m_per_s2`: slow horizontal acceleration from which a car brakes or corners.

    Slow means below `slow_hz`, under the body's own motion. A bump is a stretch whose shaking
    exceeds `bump_ratio` times the usual; `bump_s` is the window of the shaking and `bump_gap_s`
    joins the two axles' hits into one. `shortest_s`: steady stretches shorter than two of the
    body's slowest cycles tell nothing.
    """

    manoeuvre_m_per_s2: float = 1.0
    slow_hz: float = 0.4
    bump_ratio: float = 4.0
    bump_s: float = 0.1
    bump_gap_s: float = 0.5
    shortest_s: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Segments:
    """Stretches of a log as (start [s], end [s]) from its first sample, shape (n, 2) each."""

    standing_s: FloatArray
    steady_s: FloatArray
    manoeuvres_s: FloatArray
    bumps_s: FloatArray


def find_segments(recording: Recording, settings: SegmentSettings | None = None) -> Segments:
    """Tell when the car stands, drives steadily, brakes or corners, and hits single bumps.

    Parameters
    ----------
    recording : Recording
        The log made ready.

    Returns
    -------
    Segments

    Notes
    -----
    Standing is told by speed, else by stillness. Braking and cornering show in `body_long` and
    `body_lat`, else braking shows in the rate of `speed`; a log with none of them shows no
    manoeuvres. Bumps are moments much rougher than the rest, by hub, body or travel, whichever is
    there. Steady is what is left of the valid samples; single bumps are part of it.
    """
    settings = settings or SegmentSettings()
    rate_hz = recording.sample_rate_hz
    standing = standing_mask(recording.channels, recording.valid, rate_hz)
    manoeuvre = _manoeuvres(recording, settings) & ~standing & recording.valid
    steady = recording.valid & ~standing & ~manoeuvre
    steady = keep_long_runs(steady, settings.shortest_s * rate_hz)
    return Segments(
        standing_s=as_seconds(standing, rate_hz),
        steady_s=as_seconds(steady, rate_hz),
        manoeuvres_s=as_seconds(manoeuvre, rate_hz),
        bumps_s=as_seconds(_bumps(recording, settings) & ~standing & recording.valid, rate_hz),
    )


def _manoeuvres(recording: Recording, settings: SegmentSettings) -> BoolArray:
    rate_hz = recording.sample_rate_hz
    pushed = np.zeros(recording.sample_count, dtype=bool)
    for name in ("body_long", "body_lat"):
        if name in recording.channels:
            slow = low_pass(recording.channels[name], rate_hz, settings.slow_hz)
            pushed |= np.abs(slow) > settings.manoeuvre_m_per_s2
    if "speed" in recording.channels and "body_long" not in recording.channels:
        slow = low_pass(recording.channels["speed"], rate_hz, settings.slow_hz)
        pushed |= np.abs(np.gradient(slow) * rate_hz) > settings.manoeuvre_m_per_s2
    return pushed


def _bumps(recording: Recording, settings: SegmentSettings) -> BoolArray:
    """Moments in which the roughest kind of sensor shakes far more than it usually does."""
    rate_hz = recording.sample_rate_hz
    for kind in (HUB_CHANNELS, BODY_CHANNELS, tuple(recording.channels)):
        names = [n for n in kind if n in recording.channels and n != "speed"]
        if names:
            break
    else:
        return np.zeros(recording.sample_count, dtype=bool)
    window = max(2, round(settings.bump_s * rate_hz))
    power = np.zeros(recording.sample_count)
    for name in names:
        values = recording.channels[name]
        moving = values - low_pass(values, rate_hz, settings.slow_hz)
        summed = np.cumsum(np.concatenate([np.zeros(window), moving**2]))
        mean = np.empty_like(power)
        mean[:] = (summed[window:] - summed[:-window]) / window
        power += mean / max(float(np.median(mean)), 1e-12)
    rough = np.sqrt(power / len(names)) > settings.bump_ratio
    return widen(rough, round(settings.bump_gap_s * rate_hz / 2))


def log_kind(recording: Recording) -> str:
    """Tell a drive from a standing car that was pushed and let go.

    Parameters
    ----------
    recording : Recording
        The log made ready.

    Returns
    -------
    str
        ``drive`` or ``bounce``.

    Notes
    -----
    A speed above walking pace settles it. Without one, a bounce test is told by its rest: between
    the pushes every sensor lies almost still, so that most of the motion's energy falls into a
    small part of the log; and what motion there is, is slow, for no road excites the wheels.
    """
    speed = recording.channels.get("speed")
    if speed is not None and float(np.quantile(speed, 0.9)) > 2.0:
        return "drive"
    if speed is not None and float(np.max(np.abs(speed))) < 0.5:
        return "bounce"
    signs = [
        _rests_between_pushes(values[recording.valid], recording.sample_rate_hz)
        for name, values in recording.channels.items()
        if name not in ("speed", "body_long", "body_lat")
    ]
    return "bounce" if signs and sum(signs) > len(signs) / 2 else "drive"


def _rests_between_pushes(values: FloatArray, rate_hz: float) -> bool:
    """Whether a signal moves slowly, in bouts, and lies still between them."""
    block = max(2, round(0.5 * rate_hz))
    whole = len(values) // block * block
    if whole < 8 * block:
        return False
    moving = low_pass(values - np.median(values), rate_hz, min(25.0, 0.4 * rate_hz))
    slow = low_pass(moving, rate_hz, 4.0)
    level = np.sqrt(np.mean(slow[:whole].reshape(-1, block) ** 2, axis=1))
    bout, rest = np.quantile(level, [0.95, 0.4])
    fast_share = float(np.var(moving - slow)) / max(float(np.var(moving)), 1e-30)
    # measured: bounce tests 0.04 and 0.03 at most; drives 0.09 or, over hard bumps, fast 0.1
    return bool(rest < 0.12 * bout and fast_share < 0.08)
