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
    """Settings of `bump_signatures`.

    lowest_hz, highest_hz: leave out slow tilt and engine shake. typical_gap_m: damper travel to the
    bump stop where the car file names none (common practice, no source); odds above even are then
    halved. least_ratio: peaks below this part of the touch acceleration are no candidates.
    together_s: corners that peak within this time are compared. merge_s: peaks closer than this are
    one contact. end_s: the filters' own ends. least_probability: contacts below are not told.

    The weights are those of a logistic regression over 52 simulated cars with five unlike kinds of
    stops. ``python -m tests.bench.train_contact_odds`` does the same on other cars; its weights
    find 2 (hubs) and 6 (body alone) in a hundred fewer contacts of the bench, as many of them true.
    Their order is that of the clues in `Jolt`, after a constant.
    """

    lowest_hz: float = 0.3
    highest_hz: float = 45.0
    typical_gap_m: float = 0.04
    unknown_gap_share: float = 0.5
    least_ratio: float = 0.5
    together_s: float = 0.03
    merge_s: float = 0.028
    end_s: float = 1.0
    least_probability: float = 0.4
    body_weights: tuple[float, ...] = (-4.25, 3.05, 0.60, -2.88, 1.73, -2.43)
    hub_weights: tuple[float, ...] = (-1.64, 1.80, -1.62, 0.17, 1.82, 0.71)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HubClues:
    """What the hub tells of a corner, each of shape (n,).

    `push_m_per_s2`: body minus hub acceleration x unsprung / sprung mass; `hub_m_per_s2`; `past_m`:
    damper travel by hub and body past the gap.
    """

    push_m_per_s2: FloatArray
    hub_m_per_s2: FloatArray
    past_m: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Jolt:
    """A peak of a corner's body acceleration, and the clues it gives.

    `body_clues`: logarithm of peak over touch acceleration, logarithm of peak over typical
    acceleration, share missing to the strongest corner, the body's rise 20 to 60 ms before over the
    peak, how far 12 ms beside it have fallen. `hub_clues`: the first and third of those, the hub's
    push away from the body over that of a touch, travel past the gap in centimetres, the wheel's
    own upward strike just before in 100 m/s2; None without hubs.
    """

    start_s: float
    end_s: float
    body_clues: tuple[float, ...]
    hub_clues: tuple[float, ...] | None


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
    hubs: Mapping[str, HubClues] | None = None,
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
    hubs : Mapping, optional
        What the hubs tell, by corner.
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
    A stop pushes the corner of the body up harder than spring and damper can, in one sharp peak,
    and the hub down. A corner whose peak is small beside another corner's at the same moment only
    feels that corner's stop. On simulated cars that hit sharp bumps the body alone told 60 to 70 %
    of the contacts, 85 to 95 % of those told being contacts; with hubs 80 to 90 % and 90 to 95 %.
    Light touches stay unseen. A travel sensor tells nearly all.

    References
    ----------
    Derived here; odds by logistic regression on simulated cars.
    """
    s = settings or SignatureSettings()
    found = {}
    every = find_jolts(body, touch, sample_rate_hz, hubs=hubs, valid=valid, settings=s)
    for corner, jolts in every.items():
        contacts = [_contact(jolt, gap_known, s) for jolt in jolts]
        found[corner] = tuple(c for c in contacts if c.probability >= s.least_probability)
    return found


def find_jolts(
    body: Mapping[str, FloatArray],
    touch: Mapping[str, float],
    sample_rate_hz: float,
    *,
    hubs: Mapping[str, HubClues] | None = None,
    valid: BoolArray | None = None,
    settings: SignatureSettings | None = None,
) -> Mapping[str, tuple[Jolt, ...]]:
    """Peaks of body acceleration that may be contacts, by corner; parameters as `bump_signatures`.

    Parameters
    ----------
    body, touch : Mapping
        Accelerations [m/s2] by corner.
    sample_rate_hz : float
        Sample rate [Hz].
    hubs : Mapping, optional
        What the hubs tell, by corner.
    valid : BoolArray, optional
        False where samples are missing, shape (n,).
    settings : SignatureSettings, optional
        Settings.

    References
    ----------
    See `bump_signatures`.
    """
    s = settings or SignatureSettings()
    upward = {
        corner: _band(acceleration, sample_rate_hz, s) for corner, acceleration in body.items()
    }
    strongest = _running_maximum(
        np.max(list(upward.values()), axis=0), round(s.together_s * sample_rate_hz)
    )
    within = np.ones(len(strongest), dtype=bool) if valid is None else valid.copy()
    end = round(s.end_s * sample_rate_hz)
    within[:end] = within[len(within) - end :] = False
    found = {}
    for corner, y in upward.items():
        signals = _Corner(
            sample_rate_hz=sample_rate_hz,
            upward=y,
            typical=max(1.4826 * float(np.median(np.abs(y))), 1e-9),
            touch=touch[corner],
            strongest=strongest,
            hub=hubs[corner] if hubs else None,
            push=_band(hubs[corner].push_m_per_s2, sample_rate_hz, s) if hubs else None,
        )
        runs = find_stretches(
            within & (y > s.least_ratio * touch[corner]),
            bridge_count=round(s.merge_s * sample_rate_hz),
        )
        found[corner] = tuple(_jolt(signals, run) for run in runs)
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Corner:
    """What the clues of one corner rest on, in m/s2."""

    sample_rate_hz: float
    upward: FloatArray
    typical: float
    touch: float
    strongest: FloatArray
    hub: HubClues | None
    push: FloatArray | None

    def around(self, signal: FloatArray, top: int, start_s: float, stop_s: float) -> FloatArray:
        """Part of a signal around a peak."""
        first = max(top + round(start_s * self.sample_rate_hz), 0)
        return signal[first : max(top + round(stop_s * self.sample_rate_hz), first + 1)]


def _jolt(corner: _Corner, run: Stretch) -> Jolt:
    top = run.start + int(np.argmax(corner.upward[run.samples]))
    peak = float(corner.upward[top])
    aside = round(0.012 * corner.sample_rate_hz)
    beside = (corner.upward[top - aside] + corner.upward[top + aside]) / 2
    over_touch = float(np.log(peak / corner.touch))
    missing = float(1 - peak / corner.strongest[top])
    hub_clues = None
    if corner.hub is not None and corner.push is not None:
        push = corner.around(corner.push, top, -0.008, 0.008).mean() / corner.touch
        past_cm = corner.around(corner.hub.past_m, top, -0.02, 0.03).max() * 100
        strike = corner.around(corner.hub.hub_m_per_s2, top, -0.08, 0.0).max() / 100
        hub_clues = (
            over_touch,
            missing,
            float(np.clip(push, -5, 10)),
            float(np.clip(past_cm, -3, 3)),
            float(max(strike, 0.01)),
        )
    return Jolt(
        start_s=run.start / corner.sample_rate_hz,
        end_s=run.stop / corner.sample_rate_hz,
        body_clues=(
            over_touch,
            float(np.log(peak / corner.typical)),
            missing,
            float(corner.around(corner.upward, top, -0.06, -0.02).max()) / peak,
            float(peak - beside) / peak,
        ),
        hub_clues=hub_clues,
    )


def _contact(jolt: Jolt, gap_known: bool, s: SignatureSettings) -> Contact:
    clues, weights = jolt.body_clues, s.body_weights
    if jolt.hub_clues is not None:
        clues, weights = jolt.hub_clues, s.hub_weights
    odds = float(weights[0] + np.dot(weights[1:], clues))
    if odds > 0 and not gap_known:
        odds *= s.unknown_gap_share
    return Contact(
        start_s=jolt.start_s,
        end_s=jolt.end_s,
        depth_mm=None,
        probability=float(1 / (1 + np.exp(-odds))),
    )


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
