"""Bump stop contacts told from body acceleration alone, each with a probability."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Axle
from ridelog.car.geometry import sprung_mass_per_corner_kg, wheel_rate_n_per_m
from ridelog.estimate.result import Contact
from ridelog.estimate.stretches import Stretch, find_stretches
from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SignatureSettings:
    """Settings of `bump_signatures`; the numbers without a reason were set on simulated cars.

    lowest_hz, highest_hz: leave out slow tilt and engine shake. typical_gap_m: damper travel to the
    bump stop where the car file names none (common practice, no source); its doubt makes the rise
    of the probability `unknown_gap_widening` times slower. doubtful_ratio: peak over touch
    acceleration at which a contact is as likely as not. ratio_width: change of that ratio from even
    odds to 73 %. outlier_factor: a peak within this many typical (rms of the bulk) is road.
    partner_share: a corner that shows less than this share of the strongest corner's peak within
    `together_s` is shaken by that corner's stop through the body. least_probability: contacts
    below are not told. merge_s: peaks closer than this are one contact. highest_odds: logarithm of
    the odds at which certainty ends; one in twenty of the clearest was no contact.
    """

    lowest_hz: float = 0.3
    highest_hz: float = 45.0
    typical_gap_m: float = 0.04
    unknown_gap_widening: float = 2.0
    doubtful_ratio: float = 1.6
    ratio_width: float = 0.2
    outlier_factor: float = 5.0
    partner_share: float = 0.6
    together_s: float = 0.03
    least_probability: float = 0.5
    merge_s: float = 0.028
    highest_odds: float = 2.94


def touch_acceleration(axle: Axle, settings: SignatureSettings | None = None) -> float:
    """Body acceleration [m/s2] from the spring alone at the touch of the bump stop.

    Parameters
    ----------
    axle : Axle
        The axle; its bump gap or, without one, a typical gap.
    settings : SignatureSettings, optional
        Settings.

    References
    ----------
    Derived here: wheel rate x wheel travel to the stop / sprung mass of the corner.
    """
    s = settings or SignatureSettings()
    gap_m = axle.bump_gap_m if axle.bump_gap_m is not None else s.typical_gap_m
    force_n = wheel_rate_n_per_m(axle) * gap_m / axle.motion_ratio
    return force_n / sprung_mass_per_corner_kg(axle)


def bump_signatures(
    body: Mapping[str, FloatArray],
    touch: Mapping[str, float],
    sample_rate_hz: float,
    *,
    gap_known: bool = True,
    valid: BoolArray | None = None,
    settings: SignatureSettings | None = None,
) -> Mapping[str, tuple[Contact, ...]]:
    """Bump stop contacts that body acceleration betrays, where there is no travel sensor.

    Parameters
    ----------
    body : Mapping
        Body acceleration [m/s2] by corner, positive up, each of shape (n,).
    touch : Mapping
        Body acceleration [m/s2] at the touch point by corner, see `touch_acceleration`.
    sample_rate_hz : float
        Sample rate [Hz].
    gap_known : bool
        Whether the touch acceleration rests on a measured gap.
    valid : BoolArray, optional
        False where samples are missing, shape (n,).
    settings : SignatureSettings, optional
        Settings.

    Returns
    -------
    Mapping
        Contacts by corner, without depth, each with its probability.

    Notes
    -----
    Away from the stop spring and damper cannot push a corner up much harder than the spring does
    at the touch point; a stop can, and does so in one sharp upward peak. A corner whose peak
    is small beside another corner's at the same moment only feels that corner's stop. Light
    touches stay unseen, and a damper that is stiff in bump can mimic a contact.

    References
    ----------
    Derived here; probabilities set on simulated cars.
    """
    s = settings or SignatureSettings()
    width = s.ratio_width * (1.0 if gap_known else s.unknown_gap_widening)
    upward = {
        corner: _band(acceleration, sample_rate_hz, s) for corner, acceleration in body.items()
    }
    strongest = _running_maximum(
        np.max(list(upward.values()), axis=0), round(s.together_s * sample_rate_hz)
    )
    found = {}
    for corner, y in upward.items():
        typical = 1.4826 * float(np.median(np.abs(y)))
        high = (y > touch[corner]) if valid is None else (y > touch[corner]) & valid
        runs = find_stretches(high, bridge_count=round(s.merge_s * sample_rate_hz))
        found[corner] = tuple(
            contact
            for run in runs
            if (peak := _peak(y, run, strongest, s)) > s.outlier_factor * typical
            and (contact := _contact(run, peak / touch[corner], width, sample_rate_hz, s))
            and contact.probability >= s.least_probability
        )
    return found


def _band(acceleration: FloatArray, sample_rate_hz: float, s: SignatureSettings) -> FloatArray:
    """Acceleration between slow tilt and engine shake, no delay."""
    from scipy import fft

    count = len(acceleration)
    length = fft.next_fast_len(count + int(2 * sample_rate_hz / s.lowest_hz), real=True)
    frequency_hz = fft.rfftfreq(length, 1 / sample_rate_hz)
    frequency_hz[0] = 1e-9
    gain = 1 / (1 + (s.lowest_hz / frequency_hz) ** 4) / (1 + (frequency_hz / s.highest_hz) ** 8)
    centred = acceleration - np.median(acceleration)
    band: FloatArray = fft.irfft(fft.rfft(centred, length) * gain, length)[:count]
    return band


def _running_maximum(values: FloatArray, half_width: int) -> FloatArray:
    """Largest value within `half_width` samples on both sides."""
    padded = np.pad(values, half_width, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half_width + 1)
    return np.asarray(windows.max(axis=1), dtype=np.float64)


def _peak(y: FloatArray, run: Stretch, strongest: FloatArray, s: SignatureSettings) -> float:
    """Highest acceleration of a run, 0 where another corner shows far more at that moment."""
    highest = run.start + int(np.argmax(y[run.samples]))
    own = float(y[highest])
    return own if own >= s.partner_share * strongest[highest] else 0.0


def _contact(
    run: Stretch, ratio: float, width: float, sample_rate_hz: float, s: SignatureSettings
) -> Contact:
    odds = (ratio - s.doubtful_ratio) / width
    return Contact(
        start_s=run.start / sample_rate_hz,
        end_s=run.stop / sample_rate_hz,
        depth_mm=None,
        probability=float(1 / (1 + np.exp(-min(odds, s.highest_odds)))),
    )
