"""Block spectra of a few channels, and what a window does to a model's spectrum."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ridelog.recording import BoolArray, FloatArray

ComplexArray = npt.NDArray[np.complex128]

BLOCK_WEIGHT = 0.48
"""Independent readings per block and bin: Hann windows half overlapping, see `block_spectra`."""

_HALF_BIN_TAPS = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockSpectra:
    """Fourier transforms of overlapping blocks, scaled so that |.|^2 is a one-sided density.

    `transforms` has shape (blocks, channels, bins); `start_s` and `rms` have shape (blocks,), the
    rms being that of the first channel's band-limited block.
    """

    frequency_hz: FloatArray
    transforms: ComplexArray
    start_s: FloatArray
    block_s: float
    rms: FloatArray

    def select(self, keep: BoolArray) -> BlockSpectra:
        """Return the blocks marked True in `keep`, shape (blocks,)."""
        return BlockSpectra(
            frequency_hz=self.frequency_hz,
            transforms=self.transforms[keep],
            start_s=self.start_s[keep],
            block_s=self.block_s,
            rms=self.rms[keep],
        )


def block_spectra(
    signals: FloatArray,
    valid: BoolArray,
    *,
    sample_rate_hz: float,
    block_s: float,
    band_hz: tuple[float, float],
) -> BlockSpectra:
    """Hann-windowed transforms of half-overlapping blocks without missing samples.

    Parameters
    ----------
    signals : FloatArray
        One row per channel, shape (channels, n).
    valid : BoolArray
        False where samples are missing, shape (n,); blocks that touch such samples are left out.
    sample_rate_hz : float
        [Hz]
    block_s : float
        Block length [s].
    band_hz : tuple of float
        Lowest and highest frequency kept [Hz].

    Notes
    -----
    Each block loses its straight line first. Bins stand 1 / `block_s` apart. With a Hann window
    neighbouring bins share 4/9 and next ones 1/36 of their power, half-overlapping blocks 1/36:
    block-bin products count about `BLOCK_WEIGHT` independent readings each.

    References
    ----------
    Welch, The use of fast Fourier transform for the estimation of power spectra, IEEE Trans.
    Audio Electroacoust. 15, 1967. Harris, On the use of windows, Proc. IEEE 66, 1978.
    """
    from scipy import fft

    length = round(block_s * sample_rate_hz)
    starts = np.arange(0, signals.shape[1] - length + 1, length // 2)
    whole = np.concatenate([[0], np.cumsum(~valid)])
    starts = starts[whole[starts + length] == whole[starts]]
    window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(length) + 0.5) / length)
    scale = np.sqrt(2 / (sample_rate_hz * np.sum(window**2)))
    frequency_hz = np.arange(length // 2 + 1) * sample_rate_hz / length
    kept = (frequency_hz >= band_hz[0]) & (frequency_hz <= band_hz[1])
    transforms = np.empty((len(starts), len(signals), int(kept.sum())), np.complex128)
    for row, start in enumerate(starts):
        block = _without_line(signals[:, start : start + length])
        transforms[row] = fft.rfft(block * window, axis=1)[:, kept] * scale
    power = np.abs(transforms[:, 0]) ** 2
    return BlockSpectra(
        frequency_hz=frequency_hz[kept],
        transforms=transforms,
        start_s=starts / sample_rate_hz,
        block_s=length / sample_rate_hz,
        rms=np.sqrt(power.sum(axis=1) * sample_rate_hz / length),
    )


def _without_line(block: FloatArray) -> FloatArray:
    """Take each row's least-squares straight line off."""
    x = np.linspace(-1, 1, block.shape[1])
    centred = block - block.mean(axis=1, keepdims=True)
    slope = centred @ x / (x @ x)
    return np.asarray(centred - slope[:, None] * x)


def cross_spectra(transforms: ComplexArray) -> ComplexArray:
    """Mean over blocks of each block's channel products, shape (bins, channels, channels)."""
    return np.asarray(
        np.einsum("bif,bjf->fij", transforms, transforms.conj()) / max(len(transforms), 1)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpectralGrid:
    """Where spectra are compared and where a model must be evaluated for that.

    Below `split_hz` every bin stands alone, and the model is seen through the window, which needs
    it at half-bin steps. Above, `pool` neighbouring bins are averaged and the model is taken at
    their centre: nothing there is as narrow as the body peak. The road's delay is, so a model must
    shrink front-to-rear products by `pooled_coherence` up there.
    """

    bins_hz: FloatArray
    fine_hz: FloatArray
    low_count: int
    pool: int
    block_s: float

    @property
    def frequency_hz(self) -> FloatArray:
        """Frequencies of the compared spectra [Hz]."""
        return self.pooled(self.bins_hz)

    @property
    def fine_low_count(self) -> int:
        """How many of `fine_hz` belong to the part below the split."""
        return 2 * self.low_count - 1 + 2 * _HALF_BIN_TAPS

    @property
    def pool_counts(self) -> FloatArray:
        """Bins behind each compared frequency."""
        high = len(self.frequency_hz) - self.low_count
        return np.concatenate([np.ones(self.low_count), np.full(high, float(self.pool))])

    def pooled(self, bins: FloatArray) -> FloatArray:
        """Average measured bins (last axis) the way the grid compares them."""
        low, high = bins[..., : self.low_count], bins[..., self.low_count : len(self.bins_hz)]
        high = high.reshape(*high.shape[:-1], -1, self.pool).mean(axis=-1)
        return np.concatenate([low, high], axis=-1)

    def seen(self, fine: FloatArray) -> FloatArray:
        """Expected block spectrum of a process whose true spectrum on `fine_hz` is `fine`.

        Notes
        -----
        The expected value of a windowed periodogram is the true spectrum convolved with the
        window's own power spectrum. Without this the body peak looks too wide.

        References
        ----------
        Percival & Walden, Spectral Analysis for Physical Applications, 1993, sec. 6.3.
        """
        count = 2 * self.low_count - 1
        low = sum(
            weight * fine[..., tap : tap + count : 2] for tap, weight in enumerate(_hann_kernel())
        )
        return np.concatenate([np.asarray(low), fine[..., self.fine_low_count :]], axis=-1)

    def pooled_coherence(self, delay_s: FloatArray) -> FloatArray:
        """Loss of coherence between signals `delay_s` apart on `fine_hz`, 1 below the split.

        References
        ----------
        Derived here: autocorrelation of the Hann window at lag delay / block, and the mean of
        exp(2 pi i f delay) over the pooled bins (Dirichlet kernel).
        """
        lag = np.abs(delay_s) / self.block_s
        shared = (1 - lag) * (2 / 3 + np.cos(2 * np.pi * lag) / 3)
        shared = shared + np.sin(2 * np.pi * lag) / (2 * np.pi)
        turn = np.pi * lag + 1e-12
        pooled = np.sin(self.pool * turn) / (self.pool * np.sin(turn))
        high = np.arange(len(self.fine_hz)) >= self.fine_low_count
        return np.where(high, shared * pooled, 1.0)


def spectral_grid(
    bins_hz: FloatArray, *, block_s: float, split_hz: float = 4.0, pool: int = 2
) -> SpectralGrid:
    """Lay out the comparison of block spectra with a model.

    Parameters
    ----------
    bins_hz : FloatArray
        Bins of the block spectra [Hz], shape (bins,).
    block_s : float
        Block length [s].
    split_hz : float
        Up to here every bin is compared alone [Hz].
    pool : int
        Bins averaged above [1].
    """
    low_count = int((bins_hz < split_hz).sum())
    high_count = (len(bins_hz) - low_count) // pool * pool
    bins_hz = bins_hz[: low_count + high_count]
    step = (bins_hz[1] - bins_hz[0]) / 2
    half = np.arange(2 * low_count - 1 + 2 * _HALF_BIN_TAPS) - _HALF_BIN_TAPS
    high = bins_hz[low_count:].reshape(-1, pool).mean(axis=1)
    return SpectralGrid(
        bins_hz=bins_hz,
        fine_hz=np.concatenate([bins_hz[0] + step * half, high]),
        low_count=low_count,
        pool=pool,
        block_s=block_s,
    )


def _hann_kernel() -> FloatArray:
    """Power of the Hann window's transform at half-bin offsets, summing to 1."""
    offset = np.arange(-_HALF_BIN_TAPS, _HALF_BIN_TAPS + 1) / 2 + 1e-9
    transform = np.sinc(offset) / (1 - offset**2)
    power = np.abs(transform) ** 2
    return np.asarray(power / power.sum())
