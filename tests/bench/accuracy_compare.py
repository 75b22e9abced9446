"""Did it help: how often `compare` sees a change that is none, and misses one that is.

Run as ``python -m tests.bench.accuracy_compare [--cars N] [--sensors full|accel] [--seed S]``.
Every car is driven four times over one stretch: twice as it is, and with all its dampers 15 %
stiffer and softer; the comparisons of damping are counted. ``--new-road`` drives elsewhere.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ridelog.recording import AXLES
from ridelog.runs.collect import Run
from ridelog.runs.compare import compare_runs
from ridelog.runs.setup import RunSetup
from ridelog.simulate.fleet import fleet_scenes, random_drive
from ridelog.simulate.log import Scene, SimulatedLog, next_scene, simulate_logs
from ridelog.simulate.true_car import TrueCar
from tests.bench.closed_loop import SENSORS, _measure

STEPS = (1.0, 1.0, 1.15, 1 / 1.15)
"""Damping of each drive over the car's own: the first is compared with the others."""
AT_ONCE = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdicts:
    """Comparisons of damping: of unchanged cars and of changed ones, each with how many spoke."""

    unchanged: int
    false: int
    changed: int
    found: int
    found_wrong_way: int
    untold: int


def stiffer(car: TrueCar, factor: float) -> TrueCar:
    """Return the car with the force of every damper multiplied."""
    axles = {
        name: replace(
            axle,
            dampers=tuple(
                replace(d, bump=d.bump.scaled(factor), rebound=d.rebound.scaled(factor))
                for d in axle.dampers
            ),
        )
        for name in AXLES
        if (axle := car.axle(name))
    }
    return replace(car, **axles)


def drives_of(scene: Scene, new_road: bool) -> list[Scene]:
    """The four drives of one car."""
    drives = []
    for index, factor in enumerate(STEPS):
        again = next_scene(scene, seed=scene.seed + index)
        again = replace(again, car=stiffer(again.car, factor))
        if new_road and index:
            rng = np.random.default_rng([scene.seed % 2**32, index])
            other = random_drive(rng, scene.drive.duration_s)
            again = replace(again, drive=other, road_seed=scene.seed + 100 + index)
        drives.append(again)
    return drives


def run_of(log: SimulatedLog, name: str) -> Run:
    """Measure one drive."""
    return Run(file=name, path=Path(name), setup=RunSetup(), analysis=_measure(log))


def verdicts(
    sensors: str, seed: int, cars: int, duration_s: float, *, new_road: bool = False
) -> Verdicts:
    """Drive a fleet and count what the comparisons say of both axles' damping."""
    scenes = fleet_scenes("nonlinear", seed=seed, count=cars, duration_s=duration_s)
    scenes = tuple(replace(scene, channels=SENSORS[sensors]) for scene in scenes)
    told: list[tuple[float, float]] = []
    for start in range(0, cars, AT_ONCE):
        some = scenes[start : start + AT_ONCE]
        logs = simulate_logs([drive for scene in some for drive in drives_of(scene, new_road)])
        for index in range(len(some)):
            told.extend(_of_one_car(logs[index * len(STEPS) : (index + 1) * len(STEPS)]))
    pairs = np.array(told)
    same = pairs[:, 0] == 0
    spoke = pairs[:, 1] != 0
    right_way = np.sign(pairs[:, 1]) == np.sign(pairs[:, 0])
    return Verdicts(
        unchanged=int(same.sum()),
        false=int((same & spoke).sum()),
        changed=int((~same).sum()),
        found=int((~same & spoke & right_way).sum()),
        found_wrong_way=int((~same & spoke & ~right_way).sum()),
        untold=2 * (len(STEPS) - 1) * cars - len(pairs),
    )


def _of_one_car(logs: Sequence[SimulatedLog]) -> list[tuple[float, float]]:
    """True log change and what was said (sign of the change, 0 for "cannot tell"), by axle."""
    runs = [run_of(log, f"{index}.csv") for index, log in enumerate(logs)]
    told = []
    for factor, run in zip(STEPS[1:], runs[1:], strict=True):
        for change in compare_runs(runs[0], run, logs[0].car).quantities:
            if change.name == "damping ratio":
                spoke = change.verdict != "cannot tell"
                told.append((float(np.log(factor)), float(np.sign(change.change.value)) * spoke))
    return told


def main(arguments: Sequence[str] | None = None) -> Verdicts:
    """Count as asked on the command line and print it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cars", type=int, default=12)
    parser.add_argument("--sensors", choices=tuple(SENSORS), default="full")
    parser.add_argument("--seed", type=int, default=71)
    parser.add_argument("--seconds", type=float, default=180.0)
    parser.add_argument("--new-road", action="store_true")
    asked = parser.parse_args(arguments)
    counted = verdicts(
        asked.sensors, asked.seed, asked.cars, asked.seconds, new_road=asked.new_road
    )
    sys.stdout.write(f"{asked.sensors}, seed {asked.seed}, {asked.seconds:g} s: {counted}\n")
    return counted


if __name__ == "__main__":
    main()
