"""Contacts with the bump and droop stops, from travel and a known gap."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ridelog.estimate.result import Contact
from ridelog.estimate.stretches import Stretch, find_stretches
from ridelog.recording import BoolArray, FloatArray

Stop = Literal["bump", "droop"]
_INTO_STOP = {"bump": 1.0, "droop": -1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactSettings:
    """Settings of `find_contacts`.

    smoothing_half_width_s: a contact lasts 15 ms or more, so a cubic through 12 ms takes off
    sensor noise and leaves the peak. least_depth_m: two steps of a 10-bit sensor over 200 mm; a
    shallower touch is not told from the sensor's own steps. noise_factor: with a noisier sensor the
    least depth is this many standard deviations of its noise after smoothing. bridged_s: a wheel on
    its tyre cannot swing out and back in less time than this (half a period of wheel hop at 18 Hz),
    so what looks like two contacts is one that chatters.
    """

    smoothing_half_width_s: float = 6e-3
    least_depth_m: float = 0.35e-3
    noise_factor: float = 3.0
    bridged_s: float = 0.028


def find_contacts(
    travel: FloatArray,
    sample_rate_hz: float,
    gap: float,
    *,
    stop: Stop,
    valid: BoolArray | None = None,
    settings: ContactSettings | None = None,
) -> tuple[Contact, ...]:
    """When and how deep the damper ran into a stop.

    Parameters
    ----------
    travel : FloatArray
        Damper travel [m] from ride height, positive in bump, shape (n,).
    sample_rate_hz : float
        Sample rate [Hz].
    gap : float
        Damper travel from ride height to the stop's touch point [m], positive for both stops.
    stop : ``bump`` or ``droop``
        Which stop.
    valid : BoolArray, optional
        False where samples are missing, shape (n,); no contact reaches into a hole.
    settings : ContactSettings, optional
        Settings.

    Returns
    -------
    tuple of Contact
        In order of time, with start and end between the samples and the depth at the deepest.

    Notes
    -----
    The damper is in the stop while smoothed travel is past the gap. Runs less than 28 ms apart are
    one contact; runs that stay shallower than 0.35 mm (or three times the noise) are none. An error
    of the gap or of the travel's zero moves the threshold by as much.

    References
    ----------
    Derived here: the definition of a contact, with hysteresis against the sensor's steps.
    """
    return find_all_contacts(travel, sample_rate_hz, {stop: gap}, valid=valid, settings=settings)[
        stop
    ]


def find_all_contacts(
    travel: FloatArray,
    sample_rate_hz: float,
    gaps: Mapping[Stop, float],
    *,
    valid: BoolArray | None = None,
    settings: ContactSettings | None = None,
) -> dict[Stop, tuple[Contact, ...]]:
    """Contacts of one damper with both of its stops; see `find_contacts`.

    Parameters
    ----------
    travel : FloatArray
        Damper travel [m] from ride height, positive in bump, shape (n,).
    sample_rate_hz : float
        Sample rate [Hz].
    gaps : Mapping
        Damper travel from ride height to the touch point [m], positive, of each stop to look at.
    valid : BoolArray, optional
        False where samples are missing, shape (n,).
    settings : ContactSettings, optional
        Settings.

    References
    ----------
    See `find_contacts`.
    """
    s = settings or ContactSettings()
    half_width = round(s.smoothing_half_width_s * sample_rate_hz)
    usable = np.isfinite(travel) if valid is None else np.isfinite(travel) & valid
    found: dict[Stop, tuple[Contact, ...]] = {stop: () for stop in gaps}
    if not usable.any():
        return found
    smoothed = _smooth(travel, usable, half_width)
    noise: float | None = None
    for stop, gap in gaps.items():
        past = _INTO_STOP[stop] * smoothed - gap
        if not past.max() > 0:
            continue
        if noise is None:
            noise = travel_noise(travel[usable]) * _smoothed_noise_ratio(half_width)
        least_depth = max(s.least_depth_m, s.noise_factor * noise)
        found[stop] = _hits(past, usable, least_depth, sample_rate_hz, s)
    return found


def _hits(
    past: FloatArray,
    usable: BoolArray,
    least_depth: float,
    sample_rate_hz: float,
    s: ContactSettings,
) -> tuple[Contact, ...]:
    """Contacts from travel past the touch point."""
    runs = find_stretches(usable & (past > 0))
    deep = tuple(run for run in runs if past[run.samples].max() > least_depth)
    together = np.zeros(len(past), dtype=bool)
    for run in deep:
        together[run.samples] = True
    hits = find_stretches(together, bridge_count=round(s.bridged_s * sample_rate_hz))
    return tuple(_contact(past, hit, sample_rate_hz) for hit in hits)


def travel_noise(travel: FloatArray) -> float:
    """Estimate the standard deviation of a travel sensor's own noise [m], steps included.

    Parameters
    ----------
    travel : FloatArray
        Damper travel [m], shape (n,).

    Notes
    -----
    From third differences, which leave little of a car's motion above some 200 samples a second;
    the spread of the middle 80 % keeps stops and gaps out. White noise is assumed.

    References
    ----------
    Derived here: third differences of white noise have sqrt(20) times its standard deviation.
    """
    if len(travel) < 10:
        return 0.0
    low, high = np.quantile(np.diff(travel, n=3), (0.1, 0.9))
    return float((high - low) / (2 * 1.2816 * np.sqrt(20.0)))


def _smoothing_weights(half_width: int) -> FloatArray:
    """Weights that give the middle of a cubic fitted to 2 x half_width + 1 samples."""
    if half_width < 2:
        return np.ones(1)
    powers = np.vander(np.arange(-half_width, half_width + 1.0), 4, increasing=True)
    weights: FloatArray = np.linalg.pinv(powers)[0]
    return weights


def _smoothed_noise_ratio(half_width: int) -> float:
    return float(np.sqrt(np.sum(_smoothing_weights(half_width) ** 2)))


def _smooth(travel: FloatArray, usable: BoolArray, half_width: int) -> FloatArray:
    """Travel after local cubic smoothing; holes are bridged by a straight line first."""
    weights = _smoothing_weights(half_width)
    filled = travel
    if not usable.all():
        index = np.arange(len(travel))
        filled = np.interp(index, index[usable], travel[usable])
    padded = np.pad(filled, len(weights) // 2, mode="edge")
    smoothed: FloatArray = np.convolve(padded, weights, mode="valid")
    return smoothed


def _contact(past: FloatArray, run: Stretch, sample_rate_hz: float) -> Contact:
    """Contact of one run, its ends put between the samples."""
    start = run.start - _crossing(past, run.start, run.start - 1)
    end = run.stop - 1 + _crossing(past, run.stop - 1, run.stop)
    return Contact(
        start_s=start / sample_rate_hz,
        end_s=end / sample_rate_hz,
        depth_mm=float(past[run.samples].max()) * 1e3,
        speed_mps=_touch_speed(past, run.start, sample_rate_hz),
    )


def _touch_speed(past: FloatArray, start: int, sample_rate_hz: float) -> float | None:
    """Damper speed into the stop where it is touched [m/s], over about 10 ms before."""
    before = start - max(round(0.01 * sample_rate_hz), 1)
    if before < 0:
        return None
    return float(past[start] - past[before]) / (start - before) * sample_rate_hz


def _crossing(past: FloatArray, inside: int, outside: int) -> float:
    """Part of a sample from the last sample inside to the touch point."""
    if not 0 <= outside < len(past) or past[outside] >= 0:
        return 0.0
    return float(past[inside] / (past[inside] - past[outside]))
