"""How often a check names the right fault: one fault a log, all sensors and reduced sets.

Run as ``python -m tests.bench.accuracy_faults [cars] [seed] [sets]`` from the top of the tree, sets
as in `SETS`, parted by semicolons. The seed must not be one that a threshold was tuned on (those
were 101 to 299). For each set it prints the alarms on sound logs, then one line per way to break a
log with the number of logs on which exactly the right code with exactly the right channels was
reported and nothing else; "or unsure" adds those where left and right of the right axle, or of the
other one after an exchange of sides, are named. Then every log that is not right.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Sequence

import numpy as np

from ridelog.car.description import Car
from ridelog.condition.prepare import prepare
from ridelog.recording import CORNERS, RawRecording
from tests.bench.fleet_cache import cached_fleet
from tests.broken_logs.faults import WAYS, Broken, break_log

SITUATIONS = ("linear", "nonlinear", "side", "stops", "unkind")
SETS = {
    "all": None,
    "travel, body": [f"{k}_{c}" for k in ("travel", "body") for c in CORNERS],
    "travel, hub": [f"{k}_{c}" for k in ("travel", "hub") for c in CORNERS],
    "body, hub": [f"{k}_{c}" for k in ("body", "hub") for c in CORNERS],
    "travel": [f"travel_{c}" for c in CORNERS],
    "hub": [f"hub_{c}" for c in CORNERS],
    "four body": [f"body_{c}" for c in CORNERS],
    "body fl, rl": ["body_fl", "body_rl"],
    "front only": [f"{k}_{c}" for k in ("travel", "body", "hub") for c in ("fl", "fr")],
    "one corner": ["travel_fl", "body_fl", "hub_fl"],
    "one body": ["body_fr"],
}
SENSOR_WAYS = (
    "sign",
    "swapped",
    "scale",
    "late",
    "zero",
    "noise",
    "flat",
    "clipped",
    "spikes",
    "unit",
)
Case = tuple[str, RawRecording, Car]
Found = list[tuple[str, tuple[str, ...]]]


def cases(count: int, seed: int) -> list[Case]:
    """Simulate the fleets, all sensors."""
    return [
        (log.name, log.recording(), log.car)
        for situation in SITUATIONS
        for log in cached_fleet(situation, seed=seed, count=count)
    ]


def reduced(raw: RawRecording, names: Sequence[str] | None, speed: bool) -> RawRecording:
    """Leave only some channels."""
    kept = {
        name: values
        for name, values in raw.channels.items()
        if names is None or name in names or (speed and name == "speed")
    }
    return RawRecording(time_s=raw.time_s, channels=kept, source=raw.source)


def found_in(raw: RawRecording, car: Car) -> Found:
    """Codes and channels that a check reports."""
    problems = prepare(raw, car).problems
    return [(p.code, p.channels or ((p.channel,) if p.channel else ())) for p in problems]


def mirrored(code: str, channels: tuple[str, ...], found: Found) -> bool:
    """Tell whether an axle's pair, or an exchange of sides on the other axle, was named."""
    if len(found) != 1 or found[0][0] != code:
        return False
    named = found[0][1]
    ends = {name[-2] for name in channels}
    same_kind = {name[:-3] for name in channels} == {name[:-3] for name in named}
    of_one_axle = len(named) == 2 and named[0][-2] == named[1][-2] and len(ends) == 1
    exchanged = code == "swapped" and len(channels) == 2
    return same_kind and of_one_axle and (exchanged or named[0][-2] in ends)


def broken_ones(way: str, logs: list[Case], seed: int) -> Iterator[tuple[str, Broken, Car]]:
    """Break each log once, where the set has what the fault needs."""
    for index, (name, raw, car) in enumerate(logs):
        rng = np.random.default_rng([seed, index, *way.encode()])
        try:
            yield name, break_log(raw, way, rng), car
        except ValueError:  # none to choose from: no travel, or no two of a kind
            continue


def print_way(way: str, logs: list[Case], seed: int) -> None:
    """Break each log once, count exact verdicts and print."""
    right = unsure = count = 0
    others = []
    for name, broken, car in broken_ones(way, logs, seed):
        found = found_in(broken.raw, car)
        count += 1
        if found == [(broken.code, broken.channels)]:
            right += 1
            continue
        unsure += mirrored(broken.code, broken.channels, found)
        others.append(f"    {name}: {way} {' '.join(broken.channels)} reported as {found}")
    if count:
        print(f"  {way:14s} {right} of {count}, or unsure {right + unsure}")  # noqa: T201
        print(*others, sep="\n" if others else "", flush=True)  # noqa: T201


def main(count: int, seed: int, chosen: Sequence[str]) -> None:
    """Print the tables."""
    logs = cases(count, seed)
    for label in chosen:
        with_speed = [(name, reduced(raw, SETS[label], True), car) for name, raw, car in logs]
        blind = [(name, reduced(raw, SETS[label], False), car) for name, raw, car in logs]
        started = time.process_time()
        alarms = [
            (name, found)
            for name, raw, car in (*with_speed, *blind)
            if (found := found_in(raw, car))
        ]
        each_s = (time.process_time() - started) / (2 * len(logs))
        print(f"{label}: alarms on sound logs, with and without speed: ", end="")  # noqa: T201
        print(f"{len(alarms)} of {2 * len(logs)}, {each_s:.2f} CPU s each", *alarms, sep="\n  ")  # noqa: T201
        for way in WAYS if SETS[label] is None else SENSOR_WAYS:
            print_way(way, with_speed, seed)


if __name__ == "__main__":
    words = [*sys.argv[1:], *("4", "83", ";".join(SETS))[len(sys.argv) - 1 :]]
    main(int(words[0]), int(words[1]), words[2].split(";"))
