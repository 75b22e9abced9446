"""The offset between the clocks of two loggers that felt the same ride."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ridelog.car.measured import Measured, around
from ridelog.errors import CalibrationError
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchSettings:
    """How two recordings are laid over each other.

    `rate_hz`: rate to which both are brought; body and wheel motion lie below half of it.
    `block_s`: pieces whose offsets are found one by one, long enough for ten bounces of a body.
    `piece_s`: a piece to find the place by; 200 parts per million are 10 ms in it.
    `shortest_s`: overlap that must be there. `reach_s`: how far a block's offset may lie from that
    of the whole: two clocks of 100 parts per million drift apart by 0.36 s in an hour.
    `least_correlation`: of a piece, at its peak; two sensors on one body reach 0.5 to 0.95,
    unrelated rides stay below 0.2. `least_lead`: the peak over the next best elsewhere.
    `fewest_blocks`: as many are needed to judge their scatter. `widest_s`: a half-width beyond
    this is of no use: it is a quarter of a period of wheel hop.
    """

    rate_hz: float = 100.0
    block_s: float = 8.0
    piece_s: float = 48.0
    shortest_s: float = 24.0
    reach_s: float = 0.5
    least_correlation: float = 0.3
    least_lead: float = 1.3
    fewest_blocks: int = 3
    widest_s: float = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockMatch:
    """Add `offset_s` [s] to the second clock to get the first, at the middle of the overlap.

    `drift` is what the second clock loses against the first, in seconds per second; to be added as
    drift x (second clock - `middle_s`). None where the overlap is too short to tell it from
    scatter. `correlation` is that of the best piece. `bumps` is the number of bumps that were
    matched where these, not the whole motion, told the offset.
    """

    offset_s: Measured
    drift: Measured | None
    middle_s: float
    correlation: float
    overlap_s: float
    bumps: int = 0

    def on_first_clock(self, second_s: FloatArray) -> FloatArray:
        """Turn times of the second clock into times of the first [s], shape (n,)."""
        drift = 0.0 if self.drift is None else self.drift.value
        return second_s + self.offset_s.value + drift * (second_s - self.middle_s)


def match_clocks(
    first_s: FloatArray,
    first: FloatArray,
    second_s: FloatArray,
    second: FloatArray,
    settings: MatchSettings | None = None,
) -> ClockMatch:
    """Find the offset between two clocks by a motion that both loggers recorded.

    Parameters
    ----------
    first_s, second_s : ndarray
        The two clocks [s], rising, shapes (n,) and (m,).
    first, second : ndarray
        The same motion on each, in any units, shapes (n,) and (m,); the sign may differ.
    settings : MatchSettings, optional
        Limits.

    Returns
    -------
    ClockMatch
        Offset and drift with intervals.

    Raises
    ------
    CalibrationError
        When the two do not show the same ride, or not long enough.

    Notes
    -----
    A long piece of the second is laid over all of the first by cross-correlation; then short blocks
    one by one around that offset, each peak refined by a parabola. A line through the blocks'
    offsets gives offset and drift, its scatter the interval by Student's t. What one sensor always
    feels later than the other is part of the offset: between body and hub that is 10 to 20 ms.

    References
    ----------
    Knapp & Carter, The generalized correlation method for estimation of time delay, IEEE Trans.
    ASSP 24 (1976), p. 320 (method; from memory). The blocks and their line: derived here.
    """
    settings = settings or MatchSettings()
    base_a, a = _even(first_s, first, settings.rate_hz)
    base_b, b = _even(second_s, second, settings.rate_hz)
    lag, correlation, lead = _best_piece(a, b, settings)
    if abs(correlation) < settings.least_correlation or lead < settings.least_lead:
        raise CalibrationError(
            f"the two recordings do not show the same ride (correlation {abs(correlation):.2f},"
            f" {lead:.2f} times the next best place); name columns that feel the same motion"
        )
    centres, offsets = _blocks(a, b * math.copysign(1.0, correlation), lag, settings)
    if len(offsets) < settings.fewest_blocks:
        raise CalibrationError(
            f"the two recordings share {len(offsets) * settings.block_s:.0f} s of common motion;"
            f" {settings.fewest_blocks * settings.block_s:.0f} s are needed"
        )
    shift_s = base_a - base_b
    middle_s = float(centres.mean())
    offset, drift = _line(centres - middle_s, offsets + shift_s)
    if offset.high - offset.low > 2 * settings.widest_s:
        half_ms = 500 * (offset.high - offset.low)
        raise CalibrationError(
            f"the offset of the clocks can be told to +-{half_ms:.0f} ms only, which is of no use;"
            " record longer, or name columns that feel the same motion"
        )
    overlap = min(len(a), lag + len(b)) - max(0, lag)
    return ClockMatch(
        offset_s=offset,
        drift=drift,
        middle_s=middle_s + base_b,
        correlation=abs(correlation),
        overlap_s=overlap / settings.rate_hz,
    )


def _even(time_s: FloatArray, values: FloatArray, rate_hz: float) -> tuple[float, FloatArray]:
    """Bring a signal to an even rate, as its change from sample to sample; also its start."""
    known = np.isfinite(time_s) & np.isfinite(values)
    at, order = np.unique(time_s[known], return_index=True)
    if at.size < 2:
        raise CalibrationError("a recording to be matched has hardly any readings")
    base = np.arange(at[0], at[-1], 1 / rate_hz)
    # Averages over each interval: sums of the signal at its ends, so that nothing folds back.
    area = np.concatenate(([0.0], np.cumsum(np.diff(at) * _means(values[known][order]))))
    smooth = np.diff(np.interp(base, at, area)) * rate_hz
    changes = np.diff(smooth)
    return float(base[0]) + 1 / rate_hz, changes - changes.mean()


def _means(values: FloatArray) -> FloatArray:
    """Mean of each reading and the next."""
    return np.asarray((values[:-1] + values[1:]) / 2)


def _best_piece(a: FloatArray, b: FloatArray, settings: MatchSettings) -> tuple[int, float, float]:
    """Lay pieces of one over all of the other, so that drift does not blur; take the best."""
    size = round(settings.piece_s * settings.rate_hz)
    pieces = []
    for start in range(0, max(1, len(b) - size // 2), size):
        lag, correlation, lead = _whole(a, b[start : start + size], settings)
        pieces.append((abs(correlation), lag - start, correlation, lead))
    _, lag, correlation, lead = max(pieces)
    return lag, correlation, lead


def _whole(a: FloatArray, b: FloatArray, settings: MatchSettings) -> tuple[int, float, float]:
    """Lay all of one over the other: lag in samples, correlation there, lead over elsewhere."""
    if min(len(a), len(b)) < settings.shortest_s * settings.rate_hz:
        raise CalibrationError(
            f"a recording to be matched is shorter than {settings.shortest_s:.0f} s"
        )
    size = len(a) + len(b)
    cross = np.fft.irfft(np.fft.rfft(a, size) * np.conj(np.fft.rfft(b, size)), size)
    lags = np.arange(size)
    lags[lags >= len(a)] -= size
    energy_a, energy_b = (np.concatenate(([0.0], np.cumsum(x**2))) for x in (a, b))
    start, end = np.maximum(lags, 0), np.minimum(len(a), lags + len(b))
    enough = end - start >= settings.shortest_s * settings.rate_hz
    start, end = np.where(enough, start, 0), np.where(enough, end, 0)
    power = (energy_a[end] - energy_a[start]) * (
        energy_b[np.where(enough, end - lags, 0)] - energy_b[np.where(enough, start - lags, 0)]
    )
    normal = np.where(power > 0, cross / np.sqrt(np.where(power > 0, power, 1.0)), 0.0)
    best = int(np.argmax(np.abs(normal)))
    elsewhere = np.abs(lags - lags[best]) > settings.reach_s * settings.rate_hz
    second = float(np.abs(normal[elsewhere]).max(initial=0.0))
    lead = abs(float(normal[best])) / second if second > 0 else math.inf
    return int(lags[best]), float(normal[best]), lead


def _blocks(
    a: FloatArray, b: FloatArray, lag: int, settings: MatchSettings
) -> tuple[FloatArray, FloatArray]:
    """Offset of each block [s] and its centre on the second base [s], bad ones left out."""
    size = round(settings.block_s * settings.rate_hz)
    reach = round(settings.reach_s * settings.rate_hz)
    centres, offsets = [], []
    for start in range(0, len(b) - size + 1, size):
        low = start + lag - reach
        if low < 0 or low + size + 2 * reach > len(a):
            continue
        piece, around_it = b[start : start + size], a[low : low + size + 2 * reach]
        cross = np.correlate(around_it, piece, "valid")
        power = np.convolve(around_it**2, np.ones(size), "valid") * (piece @ piece)
        normal = cross / np.sqrt(np.maximum(power, 1e-300))
        best = int(np.argmax(normal))
        if normal[best] < settings.least_correlation or not 0 < best < len(normal) - 1:
            continue
        left, top, right = normal[best - 1 : best + 2]
        peak = best + 0.5 * (left - right) / (left - 2 * top + right)
        offsets.append((peak - reach + lag) / settings.rate_hz)
        centres.append((start + size / 2) / settings.rate_hz)
    return np.array(centres), np.array(offsets)


def _line(centres: FloatArray, offsets: FloatArray) -> tuple[Measured, Measured | None]:
    """Offset at the middle and drift, by a straight line through the blocks' offsets."""
    from scipy.special import stdtrit

    count = len(offsets)
    span = float(centres @ centres)
    slope = float(centres @ offsets) / span
    left = offsets - offsets.mean() - slope * centres
    freedom = count - 2
    scatter = math.sqrt(float(left @ left) / freedom)
    factor = float(stdtrit(freedom, 0.975))
    drift = around(slope, factor * scatter / math.sqrt(span))
    offset_half = factor * scatter / math.sqrt(count)
    if drift.low <= 0 <= drift.high:  # no drift to be seen: then none is taken off
        return around(float(offsets.mean()), offset_half), None
    return around(float(offsets.mean()), offset_half), drift
