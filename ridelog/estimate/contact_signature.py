"""Bump stop contacts told from body acceleration alone, each with a probability."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Axle
from ridelog.car.geometry import sprung_mass_per_corner_kg, wheel_rate_n_per_m
from ridelog.estimate.jolt_odds import contact_odds
from ridelog.estimate.jolts import HubClues, TouchPoint, find_jolts
from ridelog.estimate.result import Contact
from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SignatureSettings:
    """Settings of `bump_signatures`.

    typical_gap_m: damper travel to the bump stop where the car file names none (common practice, no
    source); the logarithm of odds above even is then multiplied by unknown_gap_share.
    least_probability: contacts below are not told.
    """

    typical_gap_m: float = 0.04
    unknown_gap_share: float = 0.5
    least_probability: float = 0.4


def touch_point(axle: Axle, settings: SignatureSettings | None = None) -> TouchPoint:
    """What the spring alone gives a corner's body at the touch of the bump stop.

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
    stiffness_per_s2 = wheel_rate_n_per_m(axle) / sprung_mass_per_corner_kg(axle)
    return TouchPoint(
        acceleration_m_per_s2=stiffness_per_s2 * gap_m / axle.motion_ratio,
        frequency_hz=float(np.sqrt(stiffness_per_s2)) / (2 * np.pi),
    )


def bump_signatures(
    body: Mapping[str, FloatArray],
    touch: Mapping[str, TouchPoint],
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
        Touch points by corner, see `touch_point`.
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
    and the hub down. What a damper can do the log itself tells in part: see `find_jolts`. Light
    touches stay unseen. A travel sensor tells nearly all.

    References
    ----------
    Derived here; odds by logistic regression on simulated cars, see `contact_odds`.
    """
    s = settings or SignatureSettings()
    found = {}
    for corner, jolts in find_jolts(body, touch, sample_rate_hz, hubs=hubs, valid=valid).items():
        odds = contact_odds(jolts)
        if not gap_known:
            odds = np.where(odds > 0, odds * s.unknown_gap_share, odds)
        probability = 1 / (1 + np.exp(-odds))
        found[corner] = tuple(
            Contact(
                start_s=float(jolts.start_s[number]),
                end_s=float(jolts.end_s[number]),
                depth_mm=None,
                probability=float(probability[number]),
            )
            for number in np.flatnonzero(probability >= s.least_probability)
        )
    return found
