"""Road roughness by ISO 8608: the level and class of the road a log was driven on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ridelog.errors import NotEnoughDataError
from ridelog.estimate.result import Estimate, RoadResult
from ridelog.estimate.stretches import find_stretches
from ridelog.recording import BoolArray, FloatArray

REFERENCE_CYCLE_PER_M = 0.1

#: Upper limits of Gd(n0) [m3] of classes A to G; H has none. ISO 8608:2016 table C.2.
CLASS_LIMITS_M3: tuple[tuple[str, float], ...] = tuple(
    (name, 32e-6 * 4**power) for power, name in enumerate("ABCDEFG")
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadSettings:
    """Settings of `road_level`.

    window_s: long enough for two waves of the lowest frequency, short enough for a steady speed
    and for an obstacle to spoil little else.
    lowest_frequency_hz: below it tilt under braking looks like a road. highest_frequency_hz: above
    it the tyre swallows short waves and engine shake begins. lowest_speed_m_per_s: walking pace
    moves the log's band to waves shorter than the tyre's footprint. speed_spread: largest relative
    change of speed within a window. lowest_wave, highest_wave [cycle/m]: the standard's band.
    lowest_waviness, highest_waviness: range of measured roads, searched in waviness_steps.
    obstacle_ratio: a window this many times the typical level holds a kerb or hump, or a sensor at
    its limit, not road.
    fewest_windows: fewer give no interval. most_windows: so many, spread over a longer log, leave
    less doubt than the gains do. level_doubt (of the logarithm), waviness_doubt: standard
    deviations of what the quarter-car view leaves out, set on simulated cars.
    """

    window_s: float = 2.048
    lowest_frequency_hz: float = 1.2
    highest_frequency_hz: float = 20.0
    lowest_speed_m_per_s: float = 4.0
    speed_spread: float = 0.15
    lowest_wave: float = 0.011
    highest_wave: float = 2.83
    lowest_waviness: float = 1.5
    highest_waviness: float = 2.5
    waviness_steps: int = 21
    obstacle_ratio: float = 2.0
    fewest_windows: int = 8
    most_windows: int = 240
    level_doubt: float = 0.10
    waviness_doubt: float = 0.08


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoadWindows:
    """Periodograms of the road under the wheels, one row per window.

    `density_m3` [m3] at `wave_cycle_per_m`, both shape (windows, bins), the wheels averaged.
    """

    wave_cycle_per_m: FloatArray
    density_m3: FloatArray


def road_level(
    road: FloatArray,
    speed: FloatArray,
    sample_rate_hz: float,
    *,
    valid: BoolArray | None = None,
    gain_tolerance: float = 0.012,
    settings: RoadSettings | None = None,
) -> RoadResult:
    """Level and class of the road from its height under the wheels.

    Parameters
    ----------
    road : FloatArray
        Road height under each wheel [m], right between 1 and 20 Hz, shape (wheels, n).
    speed : FloatArray
        Speed of the car [m/s], shape (n,).
    sample_rate_hz : float
        Sample rate [Hz].
    valid : BoolArray, optional
        False where samples are missing, shape (n,).
    gain_tolerance : float
        How well the scale of the road height is known, one standard deviation [ratio].
    settings : RoadSettings, optional
        Settings.

    Returns
    -------
    RoadResult
        Gd(n0) with interval, class, exponent of the spectrum, remarks.

    Raises
    ------
    NotEnoughDataError
        If too few windows of steady driving are left.

    Notes
    -----
    Periodograms of windows of steady speed, moved from frequency to waves per metre, are fitted
    by Gd(n0) (n / n0)^-w with the Whittle likelihood (periodogram bins scatter like squares of
    normal numbers). The level is the mean over windows after those that hold an obstacle are left
    out; the interval comes from the scatter of the windows and the gain tolerance.

    References
    ----------
    ISO 8608:2016, annex B and C (n0 = 0.1 cycle/m, classes). P. Whittle, Estimation and
    information in stationary time series, Ark. Mat. 2 (1953).
    """
    s = settings or RoadSettings()
    windows = _road_windows(road, speed, sample_rate_hz, valid, s)
    misfit = _misfits(windows, s)
    _, levels = _fit_windows(windows, misfit, s)
    typical = levels <= s.obstacle_ratio * np.median(levels)
    if np.sum(typical) < s.fewest_windows:
        raise NotEnoughDataError(
            "road", needed=s.fewest_windows, found=float(np.sum(typical)), unit="windows"
        )
    kept = RoadWindows(
        wave_cycle_per_m=windows.wave_cycle_per_m[typical],
        density_m3=windows.density_m3[typical],
    )
    misfit = misfit[:, typical]
    waviness, levels = _fit_windows(kept, misfit, s)
    spread = _jackknife(kept, misfit, s)
    systematic = 1.96 * float(np.hypot(2 * gain_tolerance, s.level_doubt))
    level = _level_estimate(float(np.mean(levels)), spread.log_level, systematic)
    doubt = float(np.hypot(spread.waviness, 1.96 * s.waviness_doubt))
    return RoadResult(
        gd_n0_m3=level,
        iso8608_class=road_class(level.value),
        waviness=Estimate(value=waviness, low=waviness - doubt, high=waviness + doubt),
        remarks=_remarks(level, int(np.sum(~typical))),
    )


def road_class(level_m3: float) -> str:
    """Class A (very good) to H of a road.

    Parameters
    ----------
    level_m3 : float
        Gd(n0), displacement density at 0.1 cycle/m [m3].

    References
    ----------
    ISO 8608:2016, table C.2.
    """
    return next((name for name, upper in CLASS_LIMITS_M3 if level_m3 < upper), "H")


def _road_windows(
    road: FloatArray,
    speed: FloatArray,
    sample_rate_hz: float,
    valid: BoolArray | None,
    s: RoadSettings,
) -> RoadWindows:
    usable = np.isfinite(speed) & np.all(np.isfinite(road), axis=0)
    if valid is not None:
        usable &= valid
    count = round(s.window_s * sample_rate_hz)
    starts = np.array(
        [
            start
            for stretch in find_stretches(usable, bridge_count=2, shortest_count=count)
            for start in range(stretch.start, stretch.stop - count + 1, count // 2)
        ],
        dtype=np.intp,
    )
    starts = starts[_steady(speed, starts, count, s)]
    if len(starts) < s.fewest_windows:
        raise NotEnoughDataError(
            "road: steady driving",
            needed=(s.fewest_windows + 1) * s.window_s / 2,
            found=len(starts) * s.window_s / 2,
            unit="s",
        )
    if len(starts) > s.most_windows:
        spread = np.linspace(0, len(starts) - 1, s.most_windows)
        starts = starts[np.rint(spread).astype(int)]
    # The steps of a road are nearly white: no strong long waves leak into the short ones' bins.
    steps = np.diff(road, axis=1, append=road[:, -1:])
    pieces = np.stack([steps[:, start : start + count] for start in starts])
    mean_speed = np.array([speed[start : start + count].mean() for start in starts])
    taper = np.hanning(count)
    spectra = np.fft.rfft((pieces - pieces.mean(axis=-1, keepdims=True)) * taper)
    density = 2 * np.abs(spectra) ** 2 / (sample_rate_hz * np.sum(taper**2))
    frequency_hz = np.fft.rfftfreq(count, 1 / sample_rate_hz)
    step_gain = 4 * np.sin(np.pi * frequency_hz / sample_rate_hz) ** 2
    top_hz = min(s.highest_frequency_hz, 0.3 * sample_rate_hz)
    band = (frequency_hz >= s.lowest_frequency_hz) & (frequency_hz <= top_hz)
    return RoadWindows(
        wave_cycle_per_m=frequency_hz[band] / mean_speed[:, None],
        density_m3=density.mean(axis=1)[:, band] / step_gain[band] * mean_speed[:, None],
    )


def _steady(
    speed: FloatArray, starts: npt.NDArray[np.intp], count: int, s: RoadSettings
) -> BoolArray:
    """Tell which windows hold a steady speed, shape (windows,)."""
    if len(starts) == 0:
        return np.zeros(0, dtype=bool)
    windows = np.lib.stride_tricks.sliding_window_view(speed, count)[starts]
    mean, spread = windows.mean(axis=1), np.ptp(windows, axis=1)
    return np.asarray((mean >= s.lowest_speed_m_per_s) & (spread <= s.speed_spread * mean))


def _tried(s: RoadSettings) -> FloatArray:
    return np.linspace(s.lowest_waviness, s.highest_waviness, s.waviness_steps)


def _misfits(windows: RoadWindows, s: RoadSettings) -> FloatArray:
    """Whittle misfit of each window at its own best level, shape (exponents tried, windows).

    No window's misfit depends on the others, so that a fit to part of them is a sum.
    """
    log_wave, inside, count = _log_waves(windows, s)
    log_wave_sum = np.sum(log_wave * inside, axis=1)
    misfits = [count * np.log(_levels(windows, w, s)) - w * log_wave_sum for w in _tried(s)]
    return np.array(misfits)


def _fit_windows(
    windows: RoadWindows, misfit: FloatArray, s: RoadSettings
) -> tuple[float, FloatArray]:
    """Fit one exponent for all and a level [m3] for each window by profile Whittle likelihood."""
    best = _lowest_point(_tried(s), misfit.sum(axis=1))
    return best, _levels(windows, best, s)


def _levels(windows: RoadWindows, waviness: float, s: RoadSettings) -> FloatArray:
    """Best level of each window [m3] for one exponent, shape (windows,)."""
    log_wave, inside, count = _log_waves(windows, s)
    flat = windows.density_m3 * np.exp(waviness * log_wave) * inside
    return np.asarray(flat.sum(axis=1) / count, dtype=np.float64)


def _log_waves(
    windows: RoadWindows, s: RoadSettings
) -> tuple[FloatArray, BoolArray, npt.NDArray[np.intp]]:
    """Logarithm of the waves over the reference, which are in the band, and how many are."""
    wave = windows.wave_cycle_per_m
    inside = (wave >= s.lowest_wave) & (wave <= s.highest_wave)
    return np.log(wave / REFERENCE_CYCLE_PER_M), inside, inside.sum(axis=1)


def _lowest_point(x: FloatArray, y: FloatArray) -> float:
    """Bottom of the parabola through the lowest of evenly spaced points and its neighbours."""
    lowest = int(np.argmin(y))
    if lowest in (0, len(x) - 1):
        return float(x[lowest])
    left, middle, right = y[lowest - 1 : lowest + 2]
    shift = 0.5 * (left - right) / (left - 2 * middle + right)
    return float(x[lowest] + shift * (x[1] - x[0]))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spread:
    """95 % half-widths of the exponent and of the logarithm of the level."""

    waviness: float
    log_level: float


def _jackknife(windows: RoadWindows, misfit: FloatArray, s: RoadSettings) -> _Spread:
    """Scatter when one eighth of the windows at a time is left out (neighbours together)."""
    from scipy.special import stdtrit

    blocks = np.array_split(np.arange(len(windows.density_m3)), min(8, len(windows.density_m3)))
    found = []
    for block in blocks:
        part = RoadWindows(
            wave_cycle_per_m=np.delete(windows.wave_cycle_per_m, block, axis=0),
            density_m3=np.delete(windows.density_m3, block, axis=0),
        )
        waviness, levels = _fit_windows(part, np.delete(misfit, block, axis=1), s)
        found.append((waviness, np.log(np.mean(levels))))
    factor = float(stdtrit(len(blocks) - 1, 0.975))
    half = factor * np.sqrt((len(blocks) - 1) * np.var(found, axis=0))
    return _Spread(waviness=float(half[0]), log_level=float(half[1]))


def _level_estimate(level_m3: float, random: float, systematic: float) -> Estimate:
    """Level with its interval; the half-widths are those of its logarithm."""
    half = float(np.hypot(random, systematic))
    return Estimate(
        value=level_m3,
        low=level_m3 * float(np.exp(-half)),
        high=level_m3 * float(np.exp(half)),
        random_half_width=level_m3 * random,
        systematic_half_width=level_m3 * systematic,
        largest_contributor=(
            "length of the log" if random > systematic else "tyre rate, masses, sensor gains"
        ),
    )


def _remarks(level: Estimate, left_out: int) -> tuple[str, ...]:
    remarks = []
    low, high = road_class(level.low), road_class(level.high)
    if low != high:
        remarks.append(f"road: within its interval the road could be of class {low} or {high}")
    if left_out:
        remarks.append(
            f"road: {left_out} stretches of 2 s, over twice as rough as the rest, were left out "
            "as obstacles"
        )
    return tuple(remarks)
