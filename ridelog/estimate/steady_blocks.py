"""Which blocks of a drive the spectral fits rest on, and the settings of those fits."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ridelog.errors import NotEnoughDataError
from ridelog.estimate.few_sensor_priors import PriorSettings
from ridelog.estimate.road_delay import DelaySettings
from ridelog.estimate.single_bumps import SingleBumpSettings, single_bumps
from ridelog.estimate.spectra import BlockSpectra, block_spectra
from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class FewSensorSettings:
    """Choices of the fit.

    Blocks of `block_s` resolve the body peak; where single bumps leave too few of them, blocks of
    `short_block_s` are taken. Below `lowest_hz` braking and drift rule, above `highest_hz`
    engines. Blocks quieter than `quiet` of the median are standing, louder than `loud` another
    road. Noise densities are those of cheap sensors: 10-bit travel over 200 mm,
    300 ug/rtHz accelerometers.
    """

    block_s: float = 8.0
    short_block_s: float = 4.0
    lowest_hz: float = 0.6
    highest_hz: float = 20.0
    fewest_blocks: int = 5
    slowest_sample_rate_hz: float = 45.0
    quiet: float = 0.4
    loud: float = 2.5
    slowest_m_per_s: float = 3.0
    steady_speed: float = 0.12
    travel_noise_m2_per_hz: float = 4e-11
    acceleration_noise_m2_per_s4_per_hz: float = 1e-5
    scan_distortion: float = 0.6
    rough_distortion: float = 0.2
    priors: PriorSettings = field(default_factory=PriorSettings)
    delays: DelaySettings = field(default_factory=DelaySettings)
    bumps: SingleBumpSettings = field(default_factory=SingleBumpSettings)


def typical_speed(speed_m_per_s: FloatArray, settings: FewSensorSettings) -> float:
    """Median speed [m/s] while driving.

    Parameters
    ----------
    speed_m_per_s : FloatArray
        [m/s], shape (n,).
    settings : FewSensorSettings
        What counts as driving.

    Raises
    ------
    NotEnoughDataError
        The car never drove.
    """
    driving = speed_m_per_s[speed_m_per_s > settings.slowest_m_per_s]
    if len(driving) == 0:
        raise NotEnoughDataError("driving", needed=1, found=0, unit="s")
    return float(np.median(driving))


def steady_blocks(
    pairs: tuple[FloatArray, ...],
    valid: BoolArray,
    sample_rate_hz: float,
    speed_m_per_s: FloatArray | None,
    settings: FewSensorSettings,
) -> tuple[BlockSpectra, ...]:
    """Blocks of even driving without single bumps, the same ones for every pair.

    Parameters
    ----------
    pairs : tuple of FloatArray
        Front and rear signals, each (2, n) [m or m/s2].
    valid : BoolArray
        False where samples are missing, shape (n,).
    sample_rate_hz : float
        [Hz]
    speed_m_per_s : FloatArray or None
        [m/s], shape (n,).
    settings : FewSensorSettings
        What counts as even driving.

    Raises
    ------
    NotEnoughDataError
        Too few blocks are left.
    """
    bumps = single_bumps(
        np.concatenate(pairs), valid, sample_rate_hz=sample_rate_hz, settings=settings.bumps
    )
    long_enough_s = (settings.fewest_blocks + 1) * settings.block_s / 2
    spoilt = bool(bumps.any()) and valid.sum() >= long_enough_s * sample_rate_hz
    for block_s in (settings.block_s, settings.short_block_s) if spoilt else (settings.block_s,):
        spectra = _blocks(pairs, valid & ~bumps, sample_rate_hz, block_s, settings)
        keep = _even_level(spectra[0].rms, settings)
        if speed_m_per_s is not None:
            keep &= _even_speed(spectra[0], speed_m_per_s, sample_rate_hz, settings)
        if keep.sum() >= settings.fewest_blocks:
            return tuple(part.select(keep) for part in spectra)
    what = "steady driving without single bumps" if spoilt else "steady driving"
    needed = (settings.fewest_blocks + 1) * block_s / 2
    found = (int(keep.sum()) + 1) * block_s / 2 if keep.any() else 0.0
    raise NotEnoughDataError(what, needed=needed, found=found, unit="s")


def _blocks(
    pairs: tuple[FloatArray, ...],
    valid: BoolArray,
    sample_rate_hz: float,
    block_s: float,
    settings: FewSensorSettings,
) -> tuple[BlockSpectra, ...]:
    band = (settings.lowest_hz, min(settings.highest_hz, 0.4 * sample_rate_hz))
    return tuple(
        block_spectra(pair, valid, sample_rate_hz=sample_rate_hz, block_s=block_s, band_hz=band)
        for pair in pairs
    )


def _even_level(rms: FloatArray, settings: FewSensorSettings) -> BoolArray:
    """Which blocks are about as loud as most."""
    if not len(rms):
        return np.zeros(0, bool)
    middle = np.median(rms[rms >= 0.5 * np.median(rms)])
    return np.asarray((rms > settings.quiet * middle) & (rms < settings.loud * middle))


def _even_speed(
    blocks: BlockSpectra,
    speed_m_per_s: FloatArray,
    sample_rate_hz: float,
    settings: FewSensorSettings,
) -> BoolArray:
    """Which blocks were driven at one speed, not standing."""
    length = round(blocks.block_s * sample_rate_hz)
    even = []
    for start in np.round(blocks.start_s * sample_rate_hz).astype(int):
        part = speed_m_per_s[start : start + length]
        low, high = np.percentile(part, [5, 95])
        even.append(low > settings.slowest_m_per_s and high - low < settings.steady_speed * high)
    return np.array(even, bool)


def packed_blocks(spectra: tuple[BlockSpectra, ...]) -> FloatArray:
    """Each block's products, shape (blocks, modes, 4, bins)."""
    packed = []
    for part in spectra:
        front, rear = part.transforms[:, 0], part.transforms[:, 1]
        cross = front * rear.conj()
        packed.append(np.stack([abs(front) ** 2, abs(rear) ** 2, cross.real, cross.imag], axis=1))
    return np.stack(packed, axis=1)
