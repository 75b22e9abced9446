"""Single bumps in a drive: moments that a road spectrum does not describe."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleBumpSettings:
    """What counts as a single bump.

    A reading `crest` times the spread of the `around_s` about it is one: a Gaussian process of
    this band hardly reaches 4.5 in ten minutes. It spoils `before_s` (the front axle's rise) and
    `after_s` (the rear axle's turn and the body's swing) as well. `band_hz` leaves out braking and
    engines.
    """

    crest: float = 5.5
    around_s: float = 8.0
    before_s: float = 0.4
    after_s: float = 1.0
    band_hz: tuple[float, float] = (0.5, 20.0)


def single_bumps(
    signals: FloatArray,
    valid: BoolArray,
    *,
    sample_rate_hz: float,
    settings: SingleBumpSettings | None = None,
) -> BoolArray:
    """Mark the samples around single bumps.

    Parameters
    ----------
    signals : FloatArray
        Travel or acceleration, shape (channels, n); a bump in any of them counts.
    valid : BoolArray
        False where samples are missing, shape (n,).
    sample_rate_hz : float
        [Hz]
    settings : SingleBumpSettings, optional
        What counts as one.

    Returns
    -------
    BoolArray
        True in and around a bump, shape (n,).

    Notes
    -----
    The spread is 1.4826 times the median of the magnitude, which a bump now and then leaves alone;
    it is taken nearby, since rough road after smooth is not a bump.

    References
    ----------
    Derived here. 1.4826: Rousseeuw & Croux, Alternatives to the median absolute deviation, JASA
    88, 1993.
    """
    from scipy import ndimage, signal

    s = settings or SingleBumpSettings()
    high_hz = min(s.band_hz[1], 0.4 * sample_rate_hz)
    band = signal.butter(
        4, (s.band_hz[0], high_hz), btype="bandpass", fs=sample_rate_hz, output="sos"
    )
    size = np.abs(
        signal.sosfiltfilt(band, np.where(valid, np.nan_to_num(signals), 0.0), padtype="even")
    )
    spread = _nearby_spread(np.where(valid, size, np.nan), round(s.around_s * sample_rate_hz))
    wild = np.any(size > s.crest * spread, axis=0) & valid
    before, after = round(s.before_s * sample_rate_hz), round(s.after_s * sample_rate_hz)
    reach = max(before, after)
    near = np.arange(-reach, reach + 1)
    # Dilation by the stretch from `before` ahead of a wild reading to `after` behind it.
    stretch = (near >= -before) & (near <= after)
    return np.asarray(ndimage.binary_dilation(wild, structure=stretch))


def _nearby_spread(size: FloatArray, around: int) -> FloatArray:
    """Spread of each row from the median magnitude of stretches of `around` readings."""
    count = size.shape[1]
    stretches = max(1, round(count / around))
    edges = np.linspace(0, count, stretches + 1).astype(int)
    medians = np.full((len(size), stretches), np.inf)
    for number, (start, stop) in enumerate(itertools.pairwise(edges)):
        part = size[:, start:stop]
        if np.isfinite(part).any():
            medians[:, number] = np.nanmedian(part, axis=1)
    middles = (edges[:-1] + edges[1:]) / 2
    rows = [np.interp(np.arange(count), middles, row) for row in medians]
    return 1.4826 * np.array(rows)
