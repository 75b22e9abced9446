"""How often a check names the right fault: one fault a log, all sensors and reduced sets.

Run as ``python -m tests.bench.accuracy_faults [cars] [seed]`` from the top of the tree. The seed
must not be one that a threshold was tuned on (those were 101 to 199). Prints one line per way to
break a log with the number of logs on which exactly the right code with exactly the right channels
was reported and nothing else, then the alarms on sound logs.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence

import numpy as np

from ridelog.car.description import Car
from ridelog.condition.prepare import prepare
from ridelog.recording import CORNERS, RawRecording
from tests.bench.fleet_cache import cached_fleet
from tests.broken_logs.faults import WAYS, break_log

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
Case = tuple[str, RawRecording, Car]


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


def found_in(raw: RawRecording, car: Car) -> list[tuple[str, tuple[str, ...]]]:
    """Codes and channels that a check reports."""
    problems = prepare(raw, car).problems
    return [(p.code, p.channels or ((p.channel,) if p.channel else ())) for p in problems]


def count_right(way: str, logs: list[Case], seed: int, verbose: bool) -> int:
    """Break each log once and count exact verdicts."""
    right = 0
    for index, (name, raw, car) in enumerate(logs):
        rng = np.random.default_rng([seed, index, *way.encode()])
        broken = break_log(raw, way, rng)
        found = found_in(broken.raw, car)
        exact = found == [(broken.code, broken.channels)]
        right += exact
        if verbose and not exact:
            print(f"    {name}: {way} {broken.channels} reported as {found}")  # noqa: T201
    return right


def main(count: int, seed: int) -> None:
    """Print the tables."""
    logs = cases(count, seed)
    started = time.process_time()
    alarms = [(name, found) for name, raw, car in logs if (found := found_in(raw, car))]
    each_s = (time.process_time() - started) / len(logs)
    print(f"sound logs with an alarm: {len(alarms)} of {len(logs)}, {each_s:.2f} CPU s each")  # noqa: T201
    print(*alarms, sep="\n")  # noqa: T201
    for way in WAYS:
        print(f"{way:14s} {count_right(way, logs, seed, True)} of {len(logs)}", flush=True)  # noqa: T201
    print("\nreduced sets: alarms on sound logs with and without speed; sign, swapped, scale, late")  # noqa: T201
    for label, names in SETS.items():
        fewer = [(name, reduced(raw, names, True), car) for name, raw, car in logs]
        blind = [(name, reduced(raw, names, False), car) for name, raw, car in logs]
        alarmed = sum(bool(found_in(raw, car)) for _, raw, car in (*fewer, *blind))
        kinds = [name.split("_")[0] for name in fewer[0][1].channels]
        pairs = any(kinds.count(kind) > 1 for kind in ("travel", "body", "hub"))
        ways = ("sign", "swapped", "scale", "late") if pairs else ("sign",)
        score = {way: count_right(way, fewer, seed, False) for way in ways}
        print(f"{label:14s} {alarmed} of {2 * len(logs)}; {score}", flush=True)  # noqa: T201


if __name__ == "__main__":
    main(*(int(word) for word in (*sys.argv[1:], *("6", "41")[len(sys.argv) - 1 :])))
