"""Two drives side by side: the same stretch found by its bumps, cut into blocks at equal places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.estimate.weighting import weight
from ridelog.recording import BODY_CHANNELS, HUB_CHANNELS, BoolArray, FloatArray, Recording


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchSettings:
    """When two drives count as the same stretch.

    Distances by the same speed sensor err alike, so places need only agree to a fraction of a
    block. `least_likeness` is the correlation of the roughness along the road; short overlaps reach
    some by chance among many shifts, so it must also pass `chance_factor` times its standard
    deviation on unlike roads. Speed changes ride comfort: blocks driven more than `speed_tolerance`
    apart are left out.
    """

    grid_m: float = 2.0
    smoothing_m: float = 10.0
    trend_m: float = 200.0
    least_overlap_m: float = 300.0
    least_overlap_share: float = 0.5
    least_likeness: float = 0.45
    chance_factor: float = 4.5
    speed_tolerance: float = 0.15
    least_speed_m_per_s: float = 3.0
    block_s: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blocks:
    """Ride comfort by blocks of two drives: weighted rms [m/s2] in order.

    `paired` says whether block i of both lies at the same place; `place` names the channels,
    `seconds` is the driving behind them, both drives together. `why_unpaired` says why not.
    """

    first: FloatArray
    second: FloatArray
    paired: bool
    place: str
    seconds: float
    why_unpaired: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ride:
    """One drive: weighted acceleration power and roughness by sample, with distance and speed."""

    power: FloatArray
    roughness: FloatArray
    usable: BoolArray
    distance_m: FloatArray | None
    speed_m_per_s: FloatArray | None
    rate_hz: float


def comfort_blocks(
    first: Recording, second: Recording, settings: StretchSettings | None = None
) -> Blocks | None:
    """Cut two drives into blocks of ride comfort, at equal places where that can be done.

    Parameters
    ----------
    first, second : Recording
        Clean recordings of two drives.
    settings : StretchSettings, optional
        When drives count as the same stretch.

    Returns
    -------
    Blocks or None
        None where the drives share no accelerometer on the body.

    Notes
    -----
    The comfort is the vertical weighting of ISO 2631-1 at the seat, the cabin floor or the mean
    power of the body channels, whichever both drives have. The stretch is found by correlating the
    log roughness along the distance driven; without a speed channel, or with unlike roads, the
    blocks are cut by time and do not belong together.

    References
    ----------
    ISO 2631-1:1997 (weighting Wk); matching derived here.
    """
    settings = settings or StretchSettings()
    channels = _common_channels(first, second)
    if not channels:
        return None
    rides = (_ride(first, channels), _ride(second, channels))
    place = channels[0] if len(channels) == 1 else "body"
    shift, why = _shift_m(rides, settings)
    if shift is not None:
        values = _paired(rides, shift, settings)
        if len(values) >= 2:
            return Blocks(
                first=values[:, 0],
                second=values[:, 1],
                paired=True,
                place=place,
                seconds=2 * settings.block_s * len(values),
            )
        why = "too little of the stretch was driven at like speeds"
    blocks = [_by_time(ride, settings) for ride in rides]
    return Blocks(
        first=blocks[0],
        second=blocks[1],
        paired=False,
        place=place,
        seconds=settings.block_s * (len(blocks[0]) + len(blocks[1])),
        why_unpaired=why,
    )


def _common_channels(first: Recording, second: Recording) -> tuple[str, ...]:
    """Channels that stand for the ride in both drives."""
    for single in ("seat", "cabin"):
        if first.has(single) and second.has(single):
            return (single,)
    return tuple(name for name in BODY_CHANNELS if first.has(name) and second.has(name))


def _ride(recording: Recording, channels: tuple[str, ...]) -> _Ride:
    """Weighted power, roughness and distance of one drive."""
    rate = recording.sample_rate_hz
    power = np.mean(
        [weight(recording.channels[name], rate, "Wk") ** 2 for name in channels], axis=0
    )
    # The hubs feel the road before the springs change it.
    rough = tuple(name for name in HUB_CHANNELS if recording.has(name)) or channels
    roughness = np.mean(recording.stack(rough) ** 2, axis=0)
    speed = recording.channels.get("speed")
    usable = recording.valid.copy()
    distance = None
    if speed is not None:
        usable &= speed >= StretchSettings().least_speed_m_per_s
        distance = np.cumsum(np.clip(speed, 0.0, None)) / rate
    return _Ride(
        power=power,
        roughness=roughness,
        usable=usable,
        distance_m=distance,
        speed_m_per_s=speed,
        rate_hz=rate,
    )


def _by_time(ride: _Ride, settings: StretchSettings) -> FloatArray:
    """Weighted rms of consecutive blocks of one drive that are at least half usable."""
    length = round(settings.block_s * ride.rate_hz)
    count = len(ride.power) // length
    usable = ride.usable[: count * length].reshape(count, length)
    power = np.where(usable, ride.power[: count * length].reshape(count, length), 0.0)
    share = usable.mean(axis=1)
    kept = (share >= 0.5) & (power.sum(axis=1) > 0)
    return np.asarray(np.sqrt(power.sum(axis=1)[kept] / usable.sum(axis=1)[kept]))


def _shift_m(rides: tuple[_Ride, _Ride], settings: StretchSettings) -> tuple[float | None, str]:
    """Distance to add to the first drive's to find the same place in the second."""
    traces = [_trace(ride, settings) for ride in rides]
    if traces[0] is None or traces[1] is None:
        return None, "without a speed channel in both logs places cannot be matched"
    first, second = traces[0], traces[1]
    least = max(
        settings.least_overlap_m / settings.grid_m,
        settings.least_overlap_share * min(len(first), len(second)),
    )
    lags = np.arange(-len(first) + 1, len(second))
    overlap = np.minimum(len(second), lags + len(first)) - np.maximum(0, lags)
    likeness = _correlate(first, second) / np.sqrt(
        np.maximum(_correlate(first**2, np.ones(len(second))), 1e-12)
        * np.maximum(_correlate(np.ones(len(first)), second**2), 1e-12)
    )
    by_chance = np.sqrt(settings.smoothing_m / (settings.grid_m * np.maximum(overlap, 1)))
    needed = np.maximum(settings.least_likeness, settings.chance_factor * by_chance)
    surplus = np.where(overlap >= least, likeness / needed, 0.0)
    best = int(np.argmax(surplus))
    if surplus[best] < 1:
        return None, "the roads under both drives are not alike"
    return float(lags[best] * settings.grid_m), ""


def _trace(ride: _Ride, settings: StretchSettings) -> FloatArray | None:
    """Log roughness along the road, free of trend, on a grid of distance."""
    if ride.distance_m is None:
        return None
    grid = np.arange(0.0, ride.distance_m[-1], settings.grid_m)
    if len(grid) < settings.least_overlap_m / settings.grid_m:
        return None
    energy = np.cumsum(np.where(ride.usable, ride.roughness, np.median(ride.roughness)))
    # Standing still repeats a distance: the last sample there counts.
    distance, last = np.unique(ride.distance_m[::-1], return_index=True)
    at_grid = np.interp(grid, distance, energy[::-1][last])
    level = np.log(np.maximum(np.diff(at_grid, prepend=0.0), 1e-9))
    fine = _moving_mean(level, settings.smoothing_m / settings.grid_m)
    return fine - _moving_mean(level, settings.trend_m / settings.grid_m)


def _moving_mean(values: FloatArray, length: float) -> FloatArray:
    """Centred moving mean, shortened at the ends."""
    half = max(int(length / 2), 1)
    total = np.concatenate([[0.0], np.cumsum(values)])
    index = np.arange(len(values))
    low, high = np.maximum(index - half, 0), np.minimum(index + half + 1, len(values))
    return np.asarray((total[high] - total[low]) / (high - low))


def _correlate(first: FloatArray, second: FloatArray) -> FloatArray:
    """Sum of first[i] second[i + lag] for every lag from -(n - 1) to m - 1."""
    size = len(first) + len(second) - 1
    product = np.conj(np.fft.rfft(first, size)) * np.fft.rfft(second, size)
    return np.asarray(np.roll(np.fft.irfft(product, size), len(first) - 1))


def _paired(rides: tuple[_Ride, _Ride], shift_m: float, settings: StretchSettings) -> FloatArray:
    """Weighted rms of both drives at equal places, shape (blocks, 2)."""
    first, second = rides
    if first.distance_m is None or second.distance_m is None:
        return np.empty((0, 2))
    length = round(settings.block_s * first.rate_hz)
    rows = []
    for start in range(0, len(first.power) - length + 1, length):
        here = slice(start, start + length)
        ends = first.distance_m[[start, start + length - 1]] + shift_m
        if ends[0] < second.distance_m[0] or ends[1] > second.distance_m[-1]:
            continue
        low, high = np.searchsorted(second.distance_m, ends)
        row = (_rms(first, here), _rms(second, slice(int(low), int(high))))
        pace = (length / first.rate_hz, (high - low) / second.rate_hz)
        alike = abs(pace[1] / pace[0] - 1) <= settings.speed_tolerance
        if alike and row[0] > 0 and row[1] > 0:
            rows.append(row)
    return np.array(rows).reshape(-1, 2)


def _rms(ride: _Ride, part: slice) -> float:
    """Weighted rms over the usable samples of a part; 0 where less than half is usable."""
    usable = ride.usable[part]
    if usable.size == 0 or usable.mean() < 0.5:
        return 0.0
    return float(np.sqrt(ride.power[part][usable].mean()))
