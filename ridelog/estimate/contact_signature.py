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
    one contact. least_probability: contacts below are not told.

    The odds weights are those of a logistic regression over 17 simulated cars from two unlike
    simulations, 238 contacts among 3222 peaks: constant, logarithm of peak over touch
    acceleration, logarithm of peak over typical acceleration, share missing to the strongest
    corner, and with hub sensors the hub's push away from the body over that of a touch.
    """

    lowest_hz: float = 0.3
    highest_hz: float = 45.0
    typical_gap_m: float = 0.04
    unknown_gap_share: float = 0.5
    least_ratio: float = 0.8
    together_s: float = 0.03
    merge_s: float = 0.028
    least_probability: float = 0.35
    body_weights: tuple[float, float, float, float] = (-5.3, 2.49, 1.15, -3.0)
    hub_weights: tuple[float, float, float, float, float] = (-5.7, 1.94, 0.81, -1.9, 0.73)
    hub_push_limits: tuple[float, float] = (-5.0, 10.0)


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
    hub_push: Mapping[str, FloatArray] | None = None,
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
    hub_push : Mapping, optional
        (Body minus hub acceleration) x unsprung / sprung mass [m/s2] by corner, each of shape (n,).
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
    feels that corner's stop. Soft stops, light touches and hits on a road that shakes the body as
    hard stay unseen: on simulated cars that hit sharp bumps two contacts in three were told, and
    four in five of those told were contacts. A travel sensor tells nearly all.

    References
    ----------
    Derived here; odds by logistic regression on simulated cars.
    """
    s = settings or SignatureSettings()
    upward = {
        corner: _band(acceleration, sample_rate_hz, s) for corner, acceleration in body.items()
    }
    strongest = _running_maximum(
        np.max(list(upward.values()), axis=0), round(s.together_s * sample_rate_hz)
    )
    bridge_count = round(s.merge_s * sample_rate_hz)
    found = {}
    for corner, y in upward.items():
        high = y > s.least_ratio * touch[corner]
        runs = find_stretches(high if valid is None else high & valid, bridge_count=bridge_count)
        push = None if hub_push is None else _band(hub_push[corner], sample_rate_hz, s)
        signals = _Corner(
            upward=y,
            typical=1.4826 * float(np.median(np.abs(y))),
            touch=touch[corner],
            strongest=strongest,
            push=push,
        )
        contacts = [_contact(signals, run, sample_rate_hz, gap_known, s) for run in runs]
        found[corner] = tuple(c for c in contacts if c.probability >= s.least_probability)
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Corner:
    """What the odds of a contact at one corner rest on, all in m/s2."""

    upward: FloatArray
    typical: float
    touch: float
    strongest: FloatArray
    push: FloatArray | None


def _contact(
    corner: _Corner, run: Stretch, sample_rate_hz: float, gap_known: bool, s: SignatureSettings
) -> Contact:
    top = run.start + int(np.argmax(corner.upward[run.samples]))
    peak = float(corner.upward[top])
    features = [
        1.0,
        np.log(peak / corner.touch),
        np.log(peak / max(corner.typical, 1e-9)),
        1 - peak / corner.strongest[top],
    ]
    weights: tuple[float, ...] = s.body_weights
    if corner.push is not None:
        around = corner.push[max(top - round(0.008 * sample_rate_hz), 0) :][
            : 2 * round(0.008 * sample_rate_hz) + 1
        ]
        features.append(np.clip(around.mean() / corner.touch, *s.hub_push_limits))
        weights = s.hub_weights
    odds = float(np.dot(weights, features))
    if odds > 0 and not gap_known:
        odds *= s.unknown_gap_share
    return Contact(
        start_s=run.start / sample_rate_hz,
        end_s=run.stop / sample_rate_hz,
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
