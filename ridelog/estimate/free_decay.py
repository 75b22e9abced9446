"""A standing car pushed down and let go: frequency, damping and friction of each axle.

Hands leave badly, so the release is found first; from there on the car is free and a model of it
must explain every sample.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ridelog.car.description import Car, Tolerances
from ridelog.errors import NotEnoughDataError
from ridelog.estimate.curves import DecayCurve
from ridelog.estimate.decay_numbers import IntervalSettings
from ridelog.estimate.decay_prior import AxleNumbers, PriorSettings, build_prior, roll_lever_m
from ridelog.estimate.decay_release import (
    Blocks,
    Push,
    ReleaseSettings,
    block_means,
    find_pushes,
    rest_noise,
    speed_during_pushes,
)
from ridelog.estimate.decay_report import FreeDecayResult, collect_results
from ridelog.estimate.decay_search import SearchSettings, search_decays
from ridelog.estimate.result import AxleResult
from ridelog.recording import AXLES, CORNERS_OF_AXLE, BoolArray, FloatArray, Recording


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeDecaySettings:
    """Settings of the whole estimate, by part."""

    release: ReleaseSettings = field(default_factory=ReleaseSettings)
    search: SearchSettings = field(default_factory=SearchSettings)
    prior: PriorSettings = field(default_factory=PriorSettings)
    interval: IntervalSettings = field(default_factory=IntervalSettings)
    most_pushes: int = 10  # the strongest are used: more would only cost time


def free_decay(
    body_front_m_per_s2: FloatArray | None,
    body_rear_m_per_s2: FloatArray | None,
    sample_rate_hz: float,
    axles: tuple[AxleNumbers, AxleNumbers],
    settings: FreeDecaySettings | None = None,
    *,
    tolerances: Tolerances | None = None,
    sensors_per_axle: tuple[int, int] = (1, 1),
    valid: BoolArray | None = None,
    roll_rad_per_s2: FloatArray | None = None,
) -> FreeDecayResult:
    """Tell frequency, damping and friction of each axle from a bounce test.

    Parameters
    ----------
    body_front_m_per_s2, body_rear_m_per_s2 : FloatArray or None
        Vertical body acceleration over each axle [m/s2], shape (n,), positive up, without
        gravity; the mean of left and right where both are there, None where none is.
    sample_rate_hz : float
        Samples per second [Hz], 50 or more.
    axles : tuple of AxleNumbers
        Masses [kg], rates [N/m] and motion ratio as the owner states them, front and rear.
    settings : FreeDecaySettings, optional
        How the release is found, priors, allowances.
    tolerances : Tolerances, optional
        How well the owner's figures and the sensors are known.
    sensors_per_axle : tuple of int
        Sensors averaged over front and rear.
    valid : BoolArray, optional
        False where samples are missing, shape (n,).
    roll_rad_per_s2 : FloatArray, optional
        Roll acceleration of the body [rad/s2], shape (n,), either way round.

    Returns
    -------
    FreeDecayResult
        Numbers are None, with the reason in `remarks`, where the decays cannot tell.

    Raises
    ------
    NotEnoughDataError
        The log holds no push followed by a decay, or is sampled below 50 Hz.

    Notes
    -----
    Two axles on their tyres, coupled by pitch, with asymmetric digressive dampers and dry friction
    of unknown width, are simulated from every release and fitted to all decays together: stiffness,
    damping and friction are shared, each decay has its own state at the release and a rest of hand
    force that dies away. Priors are broad; the stated spring rate enters as good to a quarter.
    Holds while wheels stay on the ground and dampers off their stops.

    References
    ----------
    Derived here; conversion between decay and wheel-rate damping as the public contract defines.
    """
    settings = settings or FreeDecaySettings()
    signals, present = _both_axles(body_front_m_per_s2, body_rear_m_per_s2)
    if sample_rate_hz < 50:
        raise NotEnoughDataError("bounce test", needed=50, found=sample_rate_hz, unit="Hz")
    good = np.ones(signals.shape[1], dtype=bool) if valid is None else valid
    blocks = block_means(signals, good, sample_rate_hz, settings.release.block_s)
    middle = np.median(blocks.mean[:, blocks.valid], axis=1)  # a bounce log mostly rests
    blocks = replace(blocks, mean=blocks.mean - middle[:, None])
    noise = np.where(present, np.maximum(rest_noise(blocks, settings.release), 1e-4), np.inf)
    pushes = _strongest(find_pushes(blocks, noise, settings.release), blocks, settings)
    if not pushes:
        raise NotEnoughDataError("bounce test", needed=1, found=0, unit="decays after a push")
    if roll_rad_per_s2 is not None:
        blocks = _with_sway(blocks, roll_rad_per_s2, sample_rate_hz, pushes, axles, settings)
    prior = build_prior(axles, tolerances or Tolerances(), sensors_per_axle, settings.prior)
    decays = search_decays(blocks, noise, pushes, prior, settings.search)
    return collect_results(decays, blocks, prior, axles, settings.interval)


def _with_sway(
    blocks: Blocks,
    roll_rad_per_s2: FloatArray,
    sample_rate_hz: float,
    pushes: tuple[Push, ...],
    axles: tuple[AxleNumbers, AxleNumbers],
    settings: FreeDecaySettings,
) -> Blocks:
    """Add what roll does to the dampers of both sides, the wheels following on their tyres."""
    good = np.ones(roll_rad_per_s2.shape, dtype=bool)
    roll = block_means(roll_rad_per_s2[None], good, sample_rate_hz, settings.release.block_s).mean
    rest = float(np.median(roll[0, blocks.valid]))
    rate = speed_during_pushes(roll[0] - rest, blocks, pushes)
    lever = np.array([roll_lever_m(axle, settings.prior) for axle in axles])
    return replace(blocks, sway_m_per_s=lever[:, None] * rate)


def _both_axles(front: FloatArray | None, rear: FloatArray | None) -> tuple[FloatArray, BoolArray]:
    given = front if front is not None else rear
    if given is None:
        raise NotEnoughDataError("bounce test", needed=1, found=0, unit="body accelerometers")
    nothing = np.zeros_like(given)
    signals = np.stack([nothing if s is None else s for s in (front, rear)])
    return signals, np.array([front is not None, rear is not None])


def _strongest(
    pushes: Sequence[Push], blocks: Blocks, settings: FreeDecaySettings
) -> tuple[Push, ...]:
    """Keep at most `most_pushes`, the strongest, in order of time."""

    def strength(push: Push) -> float:
        return float(np.abs(blocks.mean[push.axle, push.safe_start : push.end]).max())

    kept = sorted(pushes, key=strength, reverse=True)[: settings.most_pushes]
    return tuple(sorted(kept, key=lambda push: push.begin))


def bounce_results(
    recording: Recording, car: Car, settings: FreeDecaySettings | None = None
) -> tuple[dict[str, AxleResult], tuple[DecayCurve, ...], tuple[str, ...]]:
    """Tell each axle's frequency, damping and friction from a log of a standing car let go.

    Parameters
    ----------
    recording : Recording
        The log; vertical acceleration of the body over at least one axle [m/s2].
    car : Car
        The car as its owner states it.
    settings : FreeDecaySettings, optional
        Settings.

    Returns
    -------
    tuple
        Results by axle, the decays for the report, and notes saying what is missing and why.

    Raises
    ------
    NotEnoughDataError
        No body accelerometer over an axle, or no push followed by a decay.

    References
    ----------
    Derived here; see `free_decay`.
    """
    result = free_decay_of(recording, car, settings)
    there = [axle for axle in AXLES if _axle_mean(recording, axle)[0] is not None]
    missing = tuple(
        f"{axle} axle: no body accelerometer over it, so the bounce test cannot tell about it"
        for axle in AXLES
        if axle not in there
    )
    remarks = tuple(r for r in result.remarks if r.split()[0] in there)
    return {axle: result.axle(axle) for axle in there}, result.curves, (*remarks, *missing)


def free_decay_of(
    recording: Recording, car: Car, settings: FreeDecaySettings | None = None
) -> FreeDecayResult:
    """Fit a log of a standing car let go; parameters and errors as `bounce_results`.

    Notes
    -----
    Left and right over one axle are averaged, which leaves out roll.

    References
    ----------
    Derived here; see `free_decay`.
    """
    means = {axle: _axle_mean(recording, axle) for axle in AXLES}
    tracks = {"front": car.front.track_m, "rear": car.rear.track_m}
    return free_decay(
        means["front"][0],
        means["rear"][0],
        recording.sample_rate_hz,
        (AxleNumbers.from_axle(car.front), AxleNumbers.from_axle(car.rear)),
        settings,
        tolerances=car.tolerances,
        sensors_per_axle=(means["front"][1], means["rear"][1]),
        valid=recording.valid,
        roll_rad_per_s2=_roll(recording, tracks),
    )


def _roll(recording: Recording, track_m: dict[str, float]) -> FloatArray | None:
    """Roll acceleration [rad/s2] from every axle with a sensor on each side; None without one."""
    found, weight = [], []
    for axle in AXLES:
        names = [f"body_{corner}" for corner in CORNERS_OF_AXLE[axle]]
        if all(recording.has(name) for name in names):
            left, right = recording.stack(names)
            found.append((left - right) * track_m[axle])
            weight.append(track_m[axle] ** 2)
    return np.asarray(np.sum(found, axis=0) / np.sum(weight)) if found else None


def _axle_mean(recording: Recording, axle: str) -> tuple[FloatArray | None, int]:
    """Mean body acceleration over an axle and the number of sensors it comes from."""
    names = [f"body_{c}" for c in CORNERS_OF_AXLE[axle] if recording.has(f"body_{c}")]
    return (recording.stack(names).mean(axis=0) if names else None), len(names)
