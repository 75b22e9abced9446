"""What `ridelog plan` promises before anything is measured: how wide intervals are, by sensors.

Simulated cars drive steadily on roads of one ISO 8608 class each; the project's own estimators say
how wide their 95 % intervals are, and how much of that more driving would shrink. Run as
``python -m tests.bench.plan_table [cars] [seed] [file]``; what it prints stands in
`ridelog/advise/plan_table.py`.
"""

import json
import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from ridelog.condition.prepare import prepare
from ridelog.recording import AXLES, BODY_CHANNELS, HUB_CHANNELS, TRAVEL_CHANNELS
from ridelog.runs.analyze import results_of
from ridelog.simulate.drive import Drive, Engine, Pulse
from ridelog.simulate.fleet import fleet_scenes, random_road
from ridelog.simulate.log import Scene, SimulatedLog, simulate_logs
from ridelog.simulate.random_car import CarStyle, random_car
from ridelog.simulate.sensors import SensorKit

# Geometric means of the classes [m3] and the speed of a careful driver there [m/s].
ROADS = {"A": (16e-6, 22.0), "B": (64e-6, 18.0), "C": (256e-6, 14.0), "D": (1024e-6, 9.0)}
SENSORS = {
    "travel+body+hub": (*TRAVEL_CHANNELS, *BODY_CHANNELS, *HUB_CHANNELS, "speed"),
    "travel+body": (*TRAVEL_CHANNELS, *BODY_CHANNELS, "speed"),
    "body+hub": (*BODY_CHANNELS, *HUB_CHANNELS, "speed"),
    "travel": (*TRAVEL_CHANNELS, "speed"),
    "body": ("body_fl", "body_rl", "speed"),
    "one": ("cabin", "speed"),
}
SECONDS = (60.0, 120.0)
CARS_AT_ONCE = 4  # so that a run cut short has as many cars on every road
QUANTITIES = ("damping_ratio", "body_frequency_hz")


@dataclass(frozen=True)
class Width:
    """Relative 95 % half-widths of one number of one axle; None where it was not told."""

    sensors: str
    road: str
    seconds: float
    quantity: str
    place: str
    random: float | None = None
    systematic: float | None = None
    held: bool | None = None


def steady_drive(rng: np.random.Generator, letter: str, duration_s: float) -> Drive:
    """Draw a drive as the plan asks for: standing first, then nearly even speed, a few bends."""
    level, speed = ROADS[letter]
    speed *= rng.uniform(0.9, 1.1)
    length = 2 * speed / 2.0
    changes, now = [Pulse(start_s=5.0, length_s=length, height=2.0)], 5.0 + length
    while now < duration_s - 8:
        # Down and up again: nobody holds a speed for minutes.
        for height in (-1.0, 1.0):
            changes.append(Pulse(start_s=now + rng.uniform(6, 12), length_s=3.0, height=height))
            now = changes[-1].start_s + 3.0
    bends = tuple(
        Pulse(start_s=float(start), length_s=4.0, height=float(rng.uniform(-2, 2)))
        for start in np.arange(5 + length, duration_s, 15.0)
    )
    return Drive(
        duration_s=duration_s,
        road=replace(random_road(rng), gd_n0_m3=level),
        forward=tuple(changes),
        sideways=bends,
        engine=Engine(level_m_per_s2=rng.uniform(0.02, 0.25)),
    )


def steady_logs(
    letter: str, *, seed: int, cars: Iterable[int], duration_s: float
) -> list[SimulatedLog]:
    """Simulate random cars on roads of one class."""
    scenes = []
    for index in cars:
        rng = np.random.default_rng([seed, ord(letter), index])
        car = random_car(rng, CarStyle(), f"plan {letter}{index}")
        drive = steady_drive(rng, letter, duration_s)
        scenes.append(Scene(car=car, drive=drive, kit=SensorKit(), seed=int(rng.integers(2**62))))
    return list(simulate_logs(scenes))


def shortened(log: SimulatedLog, seconds: float) -> SimulatedLog:
    """Keep the beginning of a log."""
    kept = log.time_s < seconds
    channels = {name: values[kept] for name, values in log.channels.items()}
    return replace(log, time_s=log.time_s[kept], channels=channels)


def widths_of(log: SimulatedLog, sensors: str, road: str, seconds: float) -> list[Width]:
    """Analyze one log with one set of sensors."""
    log = shortened(log, seconds)
    reduced = log if sensors == "bounce" else log.with_channels(SENSORS[sensors])
    result = results_of(prepare(reduced.recording(), log.car), log.car)
    if sensors == "one":
        truth = log.truth.whole_car
        pairs = [
            ("whole", "damping_ratio", result.whole_car.bounce_damping_ratio),
            ("whole", "body_frequency_hz", result.whole_car.bounce_frequency_hz),
        ]
        truths = [truth.bounce_damping_ratio, truth.bounce_frequency_hz]
    else:
        keys = [(axle, quantity) for axle in AXLES for quantity in QUANTITIES]
        pairs = [(axle, name, getattr(result.axles[axle], name)) for axle, name in keys]
        truths = [getattr(log.truth.axles[axle], name) for axle, name in keys]
    return [
        Width(sensors, road, seconds, name, f"{log.name} {place}", *_parts(estimate, truth))
        for (place, name, estimate), truth in zip(pairs, truths, strict=True)
    ]


def _parts(estimate, truth: float) -> tuple[float, float, bool] | tuple[None, None, None]:
    if estimate is None:
        return None, None, None
    random, systematic = estimate.random_half_width, estimate.systematic_half_width
    if random is None or systematic is None:
        random, systematic = (estimate.high - estimate.low) / 2, 0.0
    held = estimate.low <= truth <= estimate.high
    return random / estimate.value, systematic / estimate.value, bool(held)


def measured_widths(cars: int, seed: int) -> Iterator[Width]:
    """Simulate, analyze and yield every width."""
    bounce = simulate_logs(fleet_scenes("bounce", seed=seed, count=cars, duration_s=60.0))
    for seconds in (30.0, 60.0):
        for log in bounce:
            yield from widths_of(log, "bounce", "-", seconds)
    yield from steady_widths(cars, seed)


def steady_widths(cars: int, seed: int) -> Iterator[Width]:
    """Do the same for steady drives, a few cars on all roads at a time."""
    for first in range(0, cars, CARS_AT_ONCE):
        group = range(first, min(first + CARS_AT_ONCE, cars))
        for letter in ROADS:
            logs = steady_logs(letter, seed=seed, cars=group, duration_s=max(SECONDS) + 1)
            for sensors in SENSORS:
                for seconds in SECONDS:
                    for log in logs:
                        yield from widths_of(log, sensors, letter, seconds)


def table_rows(widths: Iterable[Width]) -> list[str]:
    """Lay out the middle widths by sensors, road and quantity, as the plan's table wants them.

    A random part r1 after t1 and r2 after t2 is taken for a^2 60 s / t + b^2: `shrinking` a and
    `stuck` b, neither negative.
    """
    groups: dict[tuple[str, str, str], list[Width]] = defaultdict(list)
    for width in widths:
        groups[(width.sensors, width.road, width.quantity)].append(width)
    return [_row(*key, members) for key, members in groups.items()]


def _row(sensors: str, road: str, quantity: str, members: list[Width]) -> str:
    told = [width for width in members if width.random is not None]
    lengths = sorted({width.seconds for width in told})
    if len(lengths) < 2:
        return f"# {sensors} {road} {quantity}: too seldom told"
    short, long = ([w for w in told if w.seconds == seconds] for seconds in lengths)
    first, second = (float(np.median([w.random for w in part])) for part in (short, long))
    systematic = float(np.median([w.systematic for w in told]))
    inverse = [60.0 / seconds for seconds in lengths]
    shrinking2 = (first**2 - second**2) / (inverse[0] - inverse[1])
    shrinking2 = float(np.clip(shrinking2, 0.0, second**2 / inverse[1]))
    stuck2 = max(second**2 - shrinking2 * inverse[1], 0.0)
    minute = [w for w in told if w.seconds == 60.0]
    wide = np.quantile([np.hypot(w.random, w.systematic) for w in minute], 0.75)
    held = 100 * np.mean([w.held for w in told])
    return (
        f'    ("{sensors}", "{road}", "{quantity}", {shrinking2**0.5:.3g}, {stuck2**0.5:.3g}, '
        f"{systematic:.3g}, {wide:.3g}),  # {len(told)} of {len(members)} told, {held:.0f} % held"
    )


def main(cars: int, seed: int, keep: Path | None) -> None:
    """Print the whole table; `keep` also writes every width as a line of JSON."""
    widths = []
    for width in measured_widths(cars, seed):
        widths.append(width)
        if keep is not None:
            with keep.open("a", encoding="utf-8") as stream:
                stream.write(json.dumps(asdict(width)) + "\n")
    sys.stdout.write("\n".join(table_rows(widths)) + "\n")


if __name__ == "__main__":
    words = sys.argv[1:]
    main(
        int(words[0]) if words else 12,
        int(words[1]) if len(words) > 1 else 210,
        Path(words[2]) if len(words) > 2 else None,
    )
