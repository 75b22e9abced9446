"""Fleets: many random cars logged in one situation, for tests and benchmarks."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ridelog.recording import BODY_CHANNELS, HUB_CHANNELS, TRAVEL_CHANNELS
from ridelog.simulate.drive import Drive, Engine, Pulse, Push
from ridelog.simulate.log import STEP_S, Scene, SimulatedLog, simulate_logs
from ridelog.simulate.random_car import CarStyle, random_car
from ridelog.simulate.road import Bump, Road
from ridelog.simulate.sensors import SensorKit
from ridelog.simulate.true_car import TrueCar

FULL = (*TRAVEL_CHANNELS, *BODY_CHANNELS, *HUB_CHANNELS, "speed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """What a fleet's cars are like, what is done to them and what is logged."""

    style: CarStyle
    channels: tuple[str, ...] = FULL
    kind: str = "drive"
    bumps: bool = False
    dirty: bool = False
    road_levels_m3: tuple[float, float] = (10e-6, 700e-6)


_PLAIN = CarStyle()
# What most cars on most roads have: dampers that start straight and bend at a knee, a damping
# ratio between tired and sporting, a road from the middle of class A to the foot of D.
_USUAL = CarStyle(
    curve_families=("knee", "knee", "saturating"),
    bleed_share=0.0,
    rebound_over_bump=(1.3, 2.6),
    damping_ratio=(0.15, 0.6),
)
_USUAL_ROADS = (16e-6, 512e-6)
SITUATIONS: dict[str, Situation] = {
    "linear": Situation(style=CarStyle(linear_dampers=True, friction_n=(5.0, 30.0))),
    "nonlinear": Situation(style=_PLAIN),
    "usual": Situation(style=_USUAL, road_levels_m3=_USUAL_ROADS),
    "usual_travel_body": Situation(
        style=_USUAL,
        channels=(*TRAVEL_CHANNELS, *BODY_CHANNELS, "speed"),
        road_levels_m3=_USUAL_ROADS,
    ),
    "usual_side": Situation(style=replace(_USUAL, tired_side=True), road_levels_m3=_USUAL_ROADS),
    "side": Situation(style=CarStyle(tired_side=True)),
    "bounce": Situation(
        style=CarStyle(damping_ratio=(0.1, 0.5)), channels=BODY_CHANNELS, kind="bounce"
    ),
    "stops": Situation(style=_PLAIN, bumps=True),
    "dirty": Situation(style=_PLAIN, dirty=True),
    "one_accel": Situation(style=_PLAIN, channels=("cabin",)),
    "two_accel": Situation(style=_PLAIN, channels=("body_fl", "body_rl")),
    "travel_only": Situation(style=_PLAIN, channels=TRAVEL_CHANNELS),
    "accel": Situation(style=_PLAIN, channels=(*BODY_CHANNELS, *HUB_CHANNELS, "speed")),
    "travel_body": Situation(style=_PLAIN, channels=(*TRAVEL_CHANNELS, *BODY_CHANNELS, "speed")),
    "hysteresis": Situation(style=CarStyle(soft_mounts=True)),
    "flex": Situation(style=CarStyle(twisting_body=True)),
    "varying_ratio": Situation(style=CarStyle(varying_ratio=True)),
    "wrong_mass": Situation(style=CarStyle(wrong_masses=True)),
    "unkind": Situation(
        style=CarStyle(soft_mounts=True, twisting_body=True, varying_ratio=True, wrong_masses=True)
    ),
}
"""All situations by name; the last five hold model errors that estimators do not expect."""

DRIVE_S = 75.0
BOUNCE_S = 40.0


def simulate_fleet(
    situation: str,
    *,
    seed: int,
    count: int,
    duration_s: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> tuple[SimulatedLog, ...]:
    """Simulate a fleet of random cars.

    Parameters
    ----------
    situation : str
        One of `SITUATIONS`.
    seed : int
        Every fleet is its seed's; car i is the same whatever the count.
    count : int
        Number of cars.
    duration_s : float, optional
        Length of each log [s]; 75 s for a drive, 40 s for a bounce log.
    progress : Callable[[float], None], optional
        Told the share done, 0 to 1.
    """
    scenes = fleet_scenes(situation, seed=seed, count=count, duration_s=duration_s)
    return simulate_logs(scenes, step_s=STEP_S, progress=progress)


def fleet_scenes(
    situation: str, *, seed: int, count: int, duration_s: float | None = None
) -> tuple[Scene, ...]:
    """Draw a fleet's cars and drives without simulating them; parameters as `simulate_fleet`."""
    what = SITUATIONS[situation]
    length = duration_s or (DRIVE_S if what.kind == "drive" else BOUNCE_S)
    salt = zlib.crc32(situation.encode())
    scenes = []
    for index in range(count):
        rng = np.random.default_rng([seed, salt, index])
        car = random_car(rng, what.style, f"{situation} {seed}-{index:02d}")
        drive = (
            random_bounce(rng, car, length)
            if what.kind == "bounce"
            else random_drive(rng, length, bumps=what.bumps, road_levels_m3=what.road_levels_m3)
        )
        scenes.append(
            Scene(
                car=car,
                drive=drive,
                kit=_dirty_kit(rng) if what.dirty else SensorKit(),
                seed=int(rng.integers(2**62)),
                channels=what.channels,
            )
        )
    return tuple(scenes)


def _dirty_kit(rng: np.random.Generator) -> SensorKit:
    stamps = rng.random() < 0.5
    return SensorKit(
        clock_rate=0.003,
        stamp_jitter_s=2e-4 if stamps else 0.0,
        sample_jitter_s=0.0 if stamps else 2e-4,
        lost_blocks=int(rng.integers(2, 6)),
        lost_cell_ratio=0.002,
    )


def random_road(rng: np.random.Generator, levels_m3: tuple[float, float] = (10e-6, 700e-6)) -> Road:
    """Draw a road of class A to D, seldom the roughest."""
    level = np.exp(rng.uniform(*np.log(levels_m3)))
    return Road(
        gd_n0_m3=float(level),
        exponent=rng.uniform(1.8, 2.3),
        coherence_ratio=rng.uniform(0.1, 0.4),
        wander_m=rng.uniform(0.0, 0.2),
        patch_m=rng.uniform(0.06, 0.14),
    )


def random_drive(
    rng: np.random.Generator,
    duration_s: float,
    *,
    bumps: bool = False,
    road_levels_m3: tuple[float, float] = (10e-6, 700e-6),
) -> Drive:
    """Draw a drive: standing, pulling away, changing speed, braking, cornering.

    Parameters
    ----------
    rng : numpy.random.Generator
        The source of chance.
    duration_s : float
        Length [s].
    bumps : bool
        Whether the road has sharp bumps that reach the stops.
    road_levels_m3 : tuple of float, optional
        Smoothest and roughest road, displacement spectral density at 0.1 cycles/m [m3].
    """
    road = random_road(rng, road_levels_m3)
    # Nobody drives fast where it is rough.
    top = 25.0 - 10.0 * np.clip(np.log(road.gd_n0_m3 / 64e-6) / np.log(10), 0, 1)
    standing = rng.uniform(4.0, 6.5)
    forward, reached = _speed_changes(rng, standing, duration_s, (10.0, float(top)))
    if bumps:
        road = _with_bumps(rng, road, reached * (duration_s - standing))
    return Drive(
        duration_s=duration_s,
        road=road,
        forward=forward,
        sideways=_corners(rng, standing + 8, duration_s),
        engine=Engine(
            idle_hz=rng.uniform(24, 30),
            running_hz=rng.uniform(31, 45),
            level_m_per_s2=rng.uniform(0.02, 0.25),
            second_ratio=rng.uniform(0.1, 0.6),
        ),
    )


def _speed_changes(
    rng: np.random.Generator, standing: float, duration_s: float, band: tuple[float, float]
) -> tuple[tuple[Pulse, ...], float]:
    """Pulses of forward acceleration between speeds drawn from a band; and the mean speed."""
    pulses, now, speed, held = [], standing, 0.0, []
    while now < duration_s:
        wanted = rng.uniform(*band)
        change = wanted - speed
        strongest = rng.uniform(1.5, 3.0) if change > 0 else rng.uniform(2.0, 4.5)
        # A raised cosine carries half its height times its length.
        length = max(2 * abs(change) / strongest, 0.8)
        pulses.append(Pulse(start_s=now, length_s=length, height=2 * change / length))
        speed = wanted
        held.append(speed)
        now += length + rng.uniform(5, 14)
    return tuple(pulses), float(np.mean(held))


def _corners(rng: np.random.Generator, start: float, duration_s: float) -> tuple[Pulse, ...]:
    pulses, now = [], start
    while now < duration_s:
        length = rng.uniform(2, 5)
        height = rng.uniform(0.5, 3.0) * rng.choice([-1, 1])
        pulses.append(Pulse(start_s=now, length_s=length, height=float(height)))
        now += length + rng.uniform(3, 12)
    return tuple(pulses)


def _with_bumps(rng: np.random.Generator, road: Road, length_m: float) -> Road:
    bumps, place = [], rng.uniform(60, 120)
    while place < length_m:
        side = rng.choice(["both", "left", "right"], p=[0.5, 0.25, 0.25])
        bumps.append(
            Bump(
                place_m=place,
                length_m=rng.uniform(0.5, 1.6),
                height_m=rng.uniform(0.05, 0.1),
                left=bool(side != "right"),
                right=bool(side != "left"),
            )
        )
        place += rng.uniform(50, 180)
    return replace(road, bumps=tuple(bumps), gd_n0_m3=min(road.gd_n0_m3, 200e-6))


def random_bounce(rng: np.random.Generator, car: TrueCar, duration_s: float) -> Drive:
    """Draw a bounce test: pumped at front, rear and middle, let go sloppily, never quite square.

    Parameters
    ----------
    rng : numpy.random.Generator
        The source of chance.
    car : TrueCar
        Sets how hard one has to push.
    duration_s : float
        Length [s].
    """
    mass = car.front.sprung_mass_kg + car.rear.sprung_mass_kg
    to_front = car.wheelbase_m * car.rear.sprung_mass_kg / mass
    places = (to_front + 0.5, to_front - car.wheelbase_m - 0.6, 0.0)
    rates = [2 * a.wheel_rate_n_per_m / a.sprung_mass_kg for a in (car.front, car.rear)]
    period = 2 * np.pi / np.sqrt(np.mean(rates))
    pushes, now, turn = [], rng.uniform(4.0, 6.0), 0
    while now < duration_s - 7.0:
        push = Push(
            start_s=now,
            force_n=rng.uniform(400, 850),
            ahead_m=places[turn % 3] + rng.normal(0, 0.1),
            left_m=rng.normal(0, 0.2),
            pumps=int(rng.integers(2, 5)),
            period_s=period * rng.uniform(0.85, 1.15),
            hold_s=rng.uniform(0.0, 0.4),
            release_s=rng.uniform(0.05, 0.18),
        )
        pushes.append(push)
        now += (push.pumps + 0.5) * push.period_s + push.hold_s + rng.uniform(4.0, 5.5)
        turn += 1
    return Drive(duration_s=duration_s, pushes=tuple(pushes))
