"""A travel sensor late against its axle partner: both wheels feel the road at the same moment."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from ridelog.condition.disagreement import shifted
from ridelog.condition.road_relations import side_ratios
from ridelog.condition.signals import Checked, Signals
from ridelog.condition.spectra import ComplexArray, WindowSpectra, window_spectra
from ridelog.recording import TRAVEL_CHANNELS, FloatArray, Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class SideDelaySettings:
    """How a delay between left and right is read, and when it is called.

    Each band [Hz] has the power of the phase that is read: below 4 Hz both wheels move together,
    above it those of a live axle move together or against each other, so that there the phase is
    doubled. A tired damper delays its side by 20 ms in one band and by nothing in another, a sensor
    by the same in all: each must lie within `most_apart_s` or `most_sigmas` of the mean, the mean
    be `least_delay_s` and `least_sigmas`, and the two lower bands together `least_low_sigmas`. A
    delay leaves how loud both sides are alone; a tired damper makes them differ from band to band
    by a log ratio of 0.15 and more, against which `most_spread` stands.
    """

    bands_hz: tuple[tuple[float, float, int], ...] = (
        (1.0, 2.2, 1),
        (2.2, 4.0, 1),
        (4.0, 8.0, 2),
        (8.0, 16.0, 2),
    )
    low_bands: int = 2
    smooth_bins: int = 5
    window_share: float = 0.6
    longest_delay_s: float = 0.025
    step_s: float = 0.0005
    least_delay_s: float = 0.008
    most_apart_s: float = 0.007
    most_sigmas: float = 3.0
    least_sigmas: float = 4.0
    least_low_sigmas: float = 1.5
    most_spread: float = 0.2


def check_side_delays(
    signals: Signals, trusted: Collection[str], settings: SideDelaySettings | None = None
) -> Checked:
    """Find a travel sensor that lags behind the other of its axle.

    Parameters
    ----------
    signals : Signals
        The log on its even base, signs and exchanges put right.
    trusted : collection of str
        Channels that no earlier check has given up.

    Returns
    -------
    Checked
        Signals with the later of the two moved.

    Notes
    -----
    That one sensor runs ahead looks the same; sensors that lag are more common, so that the one
    that lags is named first.

    References
    ----------
    Weights by coherence: Knapp & Carter, The generalized correlation method for estimation of time
    delay, IEEE Trans. Acoust. Speech Signal Process. 24 (1976), the maximum likelihood window and
    its variance; from memory.
    """
    settings = settings or SideDelaySettings()
    problems = []
    for pair in (TRAVEL_CHANNELS[:2], TRAVEL_CHANNELS[2:]):
        if not all(name in signals.channels and name in trusted for name in pair):
            continue
        windows = window_spectra(signals, pair)
        if windows is None:
            continue
        delay_s = _delay(windows, settings)
        if delay_s == 0 or np.ptp(side_ratios(windows)) > settings.most_spread:
            continue
        late, other = pair if delay_s > 0 else pair[::-1]
        moved = shifted(signals.channels[late], signals.sample_rate_hz, abs(delay_s))
        signals = signals.with_channel(late, moved)
        text = (
            f"{late} lags behind {other} by {1000 * abs(delay_s):.0f} ms; shifted for the analysis;"
            f" it could be {other} that runs ahead, no other sensor tells which"
        )
        problems.append(Problem(code="late", channel=late, text=text, mended=True))
    return Checked(signals=signals, problems=tuple(problems))


def _delay(windows: WindowSpectra, settings: SideDelaySettings) -> float:
    """Delay of the first against the second [s]; 0 if the bands differ or are not sure."""
    cross, weight = _coherent(windows, settings)
    count = settings.window_share * len(windows.starts)
    found, sureness = np.zeros((2, len(settings.bands_hz)))
    for row, (low, high, power) in enumerate(settings.bands_hz):
        band = (windows.frequency_hz >= low) & (windows.frequency_hz < high)
        omega = 2 * np.pi * windows.frequency_hz[band]
        found[row] = _turned_back(cross[band], weight[band], omega, power, settings)
        sureness[row] = 2 * count * np.sum(weight[band] * omega**2)
    delay_s = float(found @ sureness / sureness.sum())
    allowed = np.maximum(settings.most_apart_s, settings.most_sigmas / np.sqrt(sureness))
    slow = slice(settings.low_bands)
    slow_sigmas = found[slow] @ sureness[slow] / np.sqrt(sureness[slow].sum())
    sure = (
        abs(delay_s) >= settings.least_delay_s
        and abs(delay_s) * np.sqrt(sureness.sum()) >= settings.least_sigmas
        and slow_sigmas * np.sign(delay_s) >= settings.least_low_sigmas
        and bool(np.all(np.abs(found - delay_s) <= allowed))
    )
    return delay_s if sure else 0.0


def _coherent(
    windows: WindowSpectra, settings: SideDelaySettings
) -> tuple[ComplexArray, FloatArray]:
    """Phase between both sides, and how much each frequency says of it."""
    left, right = windows.lines
    ones = np.ones(settings.smooth_bins) / settings.smooth_bins

    def mean(products: ComplexArray | FloatArray) -> ComplexArray:
        return np.convolve(products.mean(axis=0), ones, "same").astype(np.complex128)

    cross = mean(left.conj() * right)
    power = np.real(mean(np.abs(left) ** 2)) * np.real(mean(np.abs(right) ** 2))
    # what unrelated signals come to by chance
    chance = 1 / (settings.window_share * len(windows.starts) * settings.smooth_bins)
    share = np.clip(np.abs(cross) ** 2 / np.maximum(power, 1e-300) - chance, 1e-4, 0.98)
    return cross / np.maximum(np.abs(cross), 1e-300), share / (1 - share)


def _turned_back(
    phase: ComplexArray,
    weight: FloatArray,
    omega: FloatArray,
    power: int,
    settings: SideDelaySettings,
) -> float:
    """Delay of the first that best explains the phase, or its square [s]."""
    steps = round(settings.longest_delay_s / settings.step_s)
    tries = settings.step_s * np.arange(-steps, steps + 1)
    turned = np.exp(-1j * power * np.outer(tries, omega)) * phase**power
    return float(tries[np.argmax(np.real(turned) @ weight)])
