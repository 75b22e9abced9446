"""Cross-spectra of all channels over the sound stretches of a log."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import fft

from ridelog.condition.signals import Signals
from ridelog.recording import FloatArray

ComplexArray = npt.NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpectraSettings:
    """Windows of `window_s`, half overlapping, at most `most_windows` spread over the log.

    Travel is differentiated twice before windowing: done afterwards, what leaks from its slow
    motion is blown up by the frequency squared and reads as a wrong gain. `noise_low_hz` to
    `noise_high_hz`, beyond all motion, shows the travel sensors' own noise; 0.9 of the Nyquist
    limit is taken where the sampling rate is low.
    """

    window_s: float = 4.0
    low_hz: float = 0.8
    high_hz: float = 25.0
    noise_low_hz: float = 70.0
    noise_high_hz: float = 120.0
    most_windows: int = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CrossSpectra:
    """Cross-spectral densities of accelerations, travel as its second derivative.

    `density` [(m/s2)^2/Hz] has shape (frequencies, channels, channels); element (i, j) is the mean
    of conj(channel i) x channel j. `noise` [(m/s2)^2/Hz], shape (frequencies, channels), is each
    channel's own noise. `windows` is the number averaged.
    """

    names: tuple[str, ...]
    frequency_hz: FloatArray
    density: ComplexArray
    noise: FloatArray
    windows: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindowSpectra:
    """Fourier transforms of single windows, scaled so that their mean square is a density.

    `lines` has shape (channels, windows, frequencies); `noise` (frequencies, channels) as in
    `CrossSpectra`; `starts` are the windows' first samples and `size` their length in samples.
    """

    names: tuple[str, ...]
    frequency_hz: FloatArray
    lines: ComplexArray
    noise: FloatArray
    starts: npt.NDArray[np.intp]
    size: int


def cross_spectra(
    signals: Signals, names: tuple[str, ...], settings: SpectraSettings | None = None
) -> CrossSpectra | None:
    """Average the cross-spectra of some channels over windows in which all of them are sound.

    Returns
    -------
    CrossSpectra or None
        None if fewer than three windows are sound throughout.

    References
    ----------
    Welch, The use of fast Fourier transform for the estimation of power spectra, IEEE Trans. Audio
    Electroacoust. 15 (1967); scaling from memory, held by a test against scipy.signal.csd.
    """
    windows = window_spectra(signals, names, settings)
    if windows is None:
        return None
    lines = windows.lines
    by_frequency = np.ascontiguousarray(lines.transpose(2, 0, 1))
    density = by_frequency.conj() @ by_frequency.transpose(0, 2, 1) / lines.shape[1]
    return CrossSpectra(
        names=names,
        frequency_hz=windows.frequency_hz,
        density=density,
        noise=windows.noise,
        windows=lines.shape[1],
    )


def window_spectra(
    signals: Signals, names: tuple[str, ...], settings: SpectraSettings | None = None
) -> WindowSpectra | None:
    """Transform the sound windows of some channels; None if there are fewer than three."""
    settings = settings or SpectraSettings()
    rate_hz = signals.sample_rate_hz
    size = int(settings.window_s * rate_hz)
    starts = _sound_windows(signals, names, size, settings)
    if len(starts) < 3:
        return None
    taper = np.hanning(size + 1)[:-1]
    taper *= np.sqrt(2.0 / (rate_hz * np.sum(taper**2)))  # lines squared are one-sided densities
    frequency = fft.rfftfreq(size, 1.0 / rate_hz)
    band = (frequency >= settings.low_hz) & (frequency <= min(settings.high_hz, 0.4 * rate_hz))
    quiet = _quiet_band(frequency, rate_hz, settings)
    lines = np.empty((len(names), len(starts), int(band.sum())), dtype=np.complex128)
    noise = np.zeros((int(band.sum()), len(names)))
    for row, name in enumerate(names):
        travel = name.startswith("travel_")
        cut = _cut(signals.channels[name], starts, size, rate_hz, travel)
        cut -= cut.mean(axis=1, keepdims=True)
        spectrum = fft.rfft(cut * taper, axis=1)
        if travel:
            spectrum *= _second_difference_error(frequency, rate_hz)
            power = np.mean(np.abs(spectrum[:, quiet]) ** 2, axis=0)
            floor = np.median(power / _omega(frequency[quiet]) ** 4)
            noise[:, row] = floor * _omega(frequency[band]) ** 4
        lines[row] = spectrum[:, band]
    return WindowSpectra(
        names=names,
        frequency_hz=frequency[band],
        lines=lines,
        noise=noise,
        starts=starts,
        size=size,
    )


def _omega(frequency_hz: FloatArray) -> FloatArray:
    return 2 * np.pi * frequency_hz


def _quiet_band(
    frequency: FloatArray, rate_hz: float, settings: SpectraSettings
) -> npt.NDArray[np.bool_]:
    high = min(settings.noise_high_hz, 0.45 * rate_hz)
    low = min(settings.noise_low_hz, 0.7 * high)
    return np.asarray((frequency >= low) & (frequency <= high))


def _sound_windows(
    signals: Signals, names: tuple[str, ...], size: int, settings: SpectraSettings
) -> npt.NDArray[np.intp]:
    sound = np.ones(signals.sample_count, dtype=bool)
    for name in names:
        sound &= signals.believable(name)
    starts = np.arange(1, signals.sample_count - size - 1, max(1, size // 2))
    bad_before = np.concatenate([[0], np.cumsum(~sound)])
    starts = np.asarray(starts[bad_before[starts + size] == bad_before[starts]], dtype=np.intp)
    if len(starts) > settings.most_windows:
        keep = np.linspace(0, len(starts) - 1, settings.most_windows)
        starts = starts[np.rint(keep).astype(np.intp)]
    return starts


def _cut(
    values: FloatArray, starts: npt.NDArray[np.intp], size: int, rate_hz: float, twice: bool
) -> FloatArray:
    cut = np.empty((len(starts), size))
    for row, start in enumerate(starts):
        if twice:
            wider = values[start - 1 : start + size + 1]
            cut[row] = (wider[2:] - 2 * wider[1:-1] + wider[:-2]) * rate_hz**2
        else:
            cut[row] = values[start : start + size]
    return cut


def _second_difference_error(frequency: FloatArray, rate_hz: float) -> FloatArray:
    """Return what turns a second difference into a second derivative."""
    half = np.maximum(_omega(frequency) / rate_hz / 2, 1e-12)
    return np.asarray((half / np.sin(np.minimum(half, 1.5))) ** 2)
