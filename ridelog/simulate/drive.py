"""What is done to a car while it is logged: driving over a road, or being pushed by hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.recording import FloatArray
from ridelog.simulate.march import DRIVE_INPUTS
from ridelog.simulate.road import Road, draw_road
from ridelog.simulate.true_car import TrueCar


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse:
    """A smooth pulse (raised cosine) of some quantity."""

    start_s: float
    length_s: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """Shaking by the engine: body acceleration at the firing frequency, and its second harmonic."""

    idle_hz: float = 27.0
    running_hz: float = 38.0
    level_m_per_s2: float = 0.1
    second_ratio: float = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """A hand on the body: pumping, holding down, letting go.

    `force_n` at `ahead_m` from the sprung mass's centre and `left_m` from the middle; `pumps`
    strokes of `period_s` before the last one is held for `hold_s` and let go within
    `release_s`.
    """

    start_s: float
    force_n: float
    ahead_m: float
    left_m: float
    pumps: int
    period_s: float
    hold_s: float
    release_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """One drive; accelerations are pulses [m/s2], sideways positive to the left."""

    duration_s: float
    road: Road | None = None
    forward: tuple[Pulse, ...] = ()
    sideways: tuple[Pulse, ...] = ()
    engine: Engine | None = None
    pushes: tuple[Push, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DriveSignals:
    """A drive as `march` wants it, (n, 10), and what the other sensors feel, (n,)."""

    inputs: FloatArray
    speed_m_per_s: FloatArray
    forward_m_per_s2: FloatArray
    sideways_m_per_s2: FloatArray


def drive_signals(
    car: TrueCar, drive: Drive, *, step_s: float, rng: np.random.Generator
) -> DriveSignals:
    """Work out one drive for one car.

    Parameters
    ----------
    car : TrueCar
        The car.
    drive : Drive
        What is done to it.
    step_s : float
        Time step [s].
    rng : numpy.random.Generator
        Draws the road and the engine's phase.
    """
    count = round(drive.duration_s / step_s)
    time = np.arange(count, dtype=float) * step_s
    forward, sideways = _pulses(drive.forward, time), _pulses(drive.sideways, time)
    speed = np.maximum(np.cumsum(forward) * step_s, 0.0)
    forward = np.where(speed > 0, forward, 0.0)
    inputs: FloatArray = np.zeros((count, DRIVE_INPUTS))
    if drive.road is not None:
        distance = np.cumsum(speed) * step_s
        inputs[:, :4] = _road_heights(car, drive.road, distance, rng)
    inputs[:, 4], inputs[:, 5] = forward, sideways
    if drive.engine is not None:
        inputs[:, 6] = _engine_force(car, drive.engine, speed, step_s, rng)
    for push in drive.pushes:
        force = push_force_n(push, time)
        inputs[:, 7] += force
        inputs[:, 8] += force * push.ahead_m
        inputs[:, 9] += force * push.left_m
    return DriveSignals(
        inputs=inputs,
        speed_m_per_s=speed,
        forward_m_per_s2=forward,
        sideways_m_per_s2=sideways,
    )


def _pulses(pulses: tuple[Pulse, ...], time: FloatArray) -> FloatArray:
    total = np.zeros_like(time)
    for pulse in pulses:
        inside = np.clip((time - pulse.start_s) / pulse.length_s, 0.0, 1.0)
        total += pulse.height * np.sin(np.pi * inside) ** 2
    return total


def _road_heights(
    car: TrueCar, road: Road, distance: FloatArray, rng: np.random.Generator
) -> FloatArray:
    track = (car.front.track_m + car.rear.track_m) / 2
    length = float(distance[-1]) + car.wheelbase_m + 30.0
    tracks = draw_road(road, length_m=length, track_m=track, rng=rng)
    places = [distance + car.wheelbase_m] * 2 + [distance] * 2
    return np.stack([tracks.under(w, place) for w, place in enumerate(places)], axis=1)


def _engine_force(
    car: TrueCar, engine: Engine, speed: FloatArray, step_s: float, rng: np.random.Generator
) -> FloatArray:
    # Gears keep the engine within a band while the car's speed varies.
    share = np.clip(speed / 8.0, 0.0, 1.0) + 0.05 * np.sin(speed)
    frequency = engine.idle_hz + (engine.running_hz - engine.idle_hz) * share
    phase = 2 * np.pi * np.cumsum(frequency) * step_s + rng.uniform(0, 2 * np.pi)
    wave = np.sin(phase) + engine.second_ratio * np.sin(2 * phase + 1.0)
    mass = car.front.sprung_mass_kg + car.rear.sprung_mass_kg
    force: FloatArray = mass * engine.level_m_per_s2 * wave
    return force


def push_force_n(push: Push, time_s: FloatArray) -> FloatArray:
    """Force of a hand on the body [N], up positive, at the given times [s]."""
    since = time_s - push.start_s
    pumping = push.pumps * push.period_s
    strokes = np.sin(np.pi * since / push.period_s) ** 2 * ((since > 0) & (since < pumping))
    held = np.clip((since - pumping) / (push.period_s / 2), 0.0, 1.0)
    held = np.sin(np.pi / 2 * held) ** 2
    end = pumping + push.period_s / 2 + push.hold_s
    let_go = np.clip((since - end) / push.release_s, 0.0, 1.0)
    force: FloatArray = -push.force_n * (strokes + held * (1 - np.sin(np.pi / 2 * let_go) ** 2))
    return force
