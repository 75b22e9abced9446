"""How well front and rear roads agree, and how that changes with every unknown.

Front and rear roads are taken as Gaussian with like spectra: their mean and their difference are
then independent, each with a spectrum of its own that the log itself shows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.errors import NotEnoughDataError
from ridelog.estimate.balance.transform import ComplexArray
from ridelog.estimate.road_match.settings import BandSettings
from ridelog.recording import BoolArray, FloatArray, IntArray

# A block's level counts as this many readings of the average block's.
_LEVEL_READINGS = 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blocks:
    """Where the blocks of a drive lie, and their bins; `edges` bound bands of bins."""

    index: IntArray
    window: FloatArray
    bins: slice
    frequency_hz: FloatArray
    edges: IntArray

    @property
    def count(self) -> int:
        """Number of blocks."""
        return len(self.index)

    def transform(self, signals: FloatArray) -> ComplexArray:
        """Block spectra of signals (..., n), shape (..., blocks, f)."""
        cut = np.fft.rfft(signals[..., self.index] * self.window, axis=-1)
        return np.asarray(cut[..., self.bins])


def choose_blocks(
    road: FloatArray, unusable: BoolArray, longest_delay_s: float, band: BandSettings
) -> Blocks:
    """Half-overlapping Hann blocks of a driving car, clear of gaps and stops.

    Parameters
    ----------
    road : FloatArray
        Any road velocity of the drive [m/s], shape (n,); tells where the car stands.
    unusable : BoolArray
        Samples that must not count, shape (n,).
    longest_delay_s : float
        How far back the front road is read [s].
    band : BandSettings
        Length, bins.

    Raises
    ------
    NotEnoughDataError
        Too few blocks are left.
    """
    length, margin = int(band.block_s * band.rate_hz), int(band.end_s * band.rate_hz)
    starts = np.arange(margin, len(road) - margin - length + 1, length // 2)
    lag = int(longest_delay_s * band.rate_hz) + 1
    bad = np.concatenate([[0], np.cumsum(unusable)])
    clear = bad[starts + length] == bad[np.maximum(starts - lag, 0)]
    index = starts[:, None] + np.arange(length)
    power = np.mean(road[index] ** 2, axis=1)
    index = index[clear & (power > band.quietest * np.median(power))] if len(index) else index
    if len(index) < band.fewest_blocks:
        raise NotEnoughDataError(
            "steady driving", needed=band.fewest_blocks, found=len(index), unit="blocks"
        )
    frequency_hz = np.asarray(np.fft.rfftfreq(length, 1 / band.rate_hz), dtype=float)
    inside = np.flatnonzero((frequency_hz >= band.low_hz) & (frequency_hz <= band.high_hz))
    bins = slice(int(inside[0]), int(inside[-1]) + 1)
    used = frequency_hz[bins]
    wanted = np.searchsorted(used, np.geomspace(used[0], used[-1] * 1.001, band.bands + 1))
    return Blocks(
        index=index,
        window=np.hanning(length + 1)[:-1],
        bins=bins,
        frequency_hz=used,
        edges=np.unique(wanted),
    )


def mean_and_difference(front: ComplexArray, rear: ComplexArray) -> ComplexArray:
    """Rear minus front and their mean, shape (2, ...)."""
    return np.stack([rear - front, (rear + front) / 2])


def whitening(roads: ComplexArray, blocks: Blocks, readings_per_bin: float) -> FloatArray:
    """Inverse root spectrum of each kind, mode, block and bin, from the roads found so far.

    Parameters
    ----------
    roads : ComplexArray
        From `mean_and_difference`, shape (2, modes, blocks, f).
    blocks : Blocks
        Bins and bands.
    readings_per_bin : float
        Independent readings of one block and bin.
    """
    power = np.abs(roads) ** 2
    first, last = blocks.edges[:-1], blocks.edges[1:]
    sums = np.add.reduceat(power.mean(axis=-2), first, axis=-1) / (last - first)
    log_f = np.log(blocks.frequency_hz)
    centres = (log_f[first] + log_f[last - 1]) / 2
    out = np.empty_like(power)
    enough = blocks.frequency_hz.size * readings_per_bin
    for place in np.ndindex(power.shape[:2]):
        spectrum = np.exp(np.interp(log_f, centres, np.log(sums[place])))
        level = np.mean(power[place] / spectrum, axis=1)
        level = (level * enough + _LEVEL_READINGS) / (enough + _LEVEL_READINGS)
        out[place] = 1 / np.sqrt(level[:, None] * spectrum)
    return out


def mismatch_cost(
    roads: ComplexArray, white: FloatArray, blocks: Blocks, readings_per_bin: float
) -> float:
    """Minus log likelihood of the roads, each band's spectrum at its most likely level.

    Parameters
    ----------
    roads, blocks, readings_per_bin
        As `whitening`.
    white : FloatArray
        From `whitening`.
    """
    power = (np.abs(roads) * white) ** 2
    widths = np.diff(blocks.edges)
    means = np.add.reduceat(power.mean(axis=-2), blocks.edges[:-1], axis=-1) / widths
    return float(readings_per_bin * blocks.count * np.sum(widths * np.log(means)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slope:
    """Gradient of `mismatch_cost`, its curvature, and the curvature with the spectra held."""

    gradient: FloatArray
    curvature: FloatArray
    held_curvature: FloatArray


def mismatch_slope(
    columns: ComplexArray, white: FloatArray, blocks: Blocks, readings_per_bin: float
) -> Slope:
    """How the cost changes with each unknown.

    Parameters
    ----------
    columns : ComplexArray
        Roads now and their change per unit of each unknown, shape (2, modes, 1 + p, blocks, f).
    white, blocks, readings_per_bin
        As `mismatch_cost`.

    References
    ----------
    Derived here from P. Whittle, Estimation and information in stationary time series, Arkiv för
    Matematik 2, 1953, with spectra profiled out.
    """
    size = columns.shape[2] - 1
    gradient, curvature, held = np.zeros(size), np.zeros((size, size)), np.zeros((size, size))
    for place in np.ndindex(columns.shape[:2]):
        scaled = columns[place] * white[place]
        for first, last in zip(blocks.edges[:-1], blocks.edges[1:], strict=True):
            part = np.ascontiguousarray(scaled[:, :, first:last]).view(np.float64)
            flat = part.reshape(size + 1, -1)
            products = flat @ flat.T
            readings = readings_per_bin * blocks.count * (last - first)
            pull = 2 * products[0, 1:] / products[0, 0]
            own = 2 * products[1:, 1:] / products[0, 0]
            gradient += readings * pull
            held += readings * own
            curvature += readings * (own - np.outer(pull, pull))
    return Slope(gradient=gradient, curvature=curvature, held_curvature=held)
