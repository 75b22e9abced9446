"""Print how well each set of sensors could do at best, beside how well it does.

Run ``python -m tests.bench.information_bounds [SET ...] [--cars N] [--seed S]``. For every log the
Cramer-Rao bound is taken from the information of the fit itself, in two ways:

- *floor*: with the fit's beliefs, which makes it the best mean square error over cars drawn from
  those beliefs (van Trees);
- *log alone*: with none of them but the tolerances of the sensors; the median, since it is not
  finite, or of no use, on some logs.

Of what is stated only the gains of the sensors are off in these fleets, so only they are carried
through: masses, motion ratios and tyre rates count as known. A motion ratio that is half a per cent
off adds a quarter per cent to frequency and damping of every set with travel, alone.

What no bound here holds: that the model is wrong. Friction and damper curves that the basis does
not span, a whitened residual that is not normal, delays found in the wrong place, unknowns that sit
at a limit, and second order all move what is reached, up or down.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator

import numpy as np

from ridelog.condition.prepare import prepare
from ridelog.errors import SignalError
from ridelog.recording import AXLES, BODY_CHANNELS, HUB_CHANNELS, TRAVEL_CHANNELS, Step
from tests.bench.fleet_cache import cached_fleet
from tests.bench.information_floors import (
    KEYS,
    Floors,
    of_balance,
    of_bounce,
    of_travel,
    of_two_body,
)

LIMIT = 1.3  # of what is reached over the floor, where the floor lies above the target
FULL = (*TRAVEL_CHANNELS, *BODY_CHANNELS, *HUB_CHANNELS)
# situation, seconds, channels, method, targets in % of frequency and damping
SETS = {
    "travel + body + hub": ("usual", None, FULL, of_balance, (0.5, 4)),
    "travel + body": ("usual", None, (*TRAVEL_CHANNELS, *BODY_CHANNELS), of_balance, (0.7, 5)),
    "body + hub": ("usual", None, (*BODY_CHANNELS, *HUB_CHANNELS), of_balance, (1.5, 8)),
    "four travels": ("usual", None, TRAVEL_CHANNELS, of_travel, (2, 10)),
    "body front and rear, 110 s": ("usual", 110.0, ("body_fl", "body_rl"), of_two_body, (2, 12)),
    "bounce test": ("bounce", None, BODY_CHANNELS, of_bounce, (1, 6)),
}


def judged(name: str, cars: int, seed: int) -> Iterator[tuple[Floors, tuple[float, float]]]:
    """Floors of every axle of a fleet beside its truth."""
    situation, duration_s, channels, method, _ = SETS[name]
    for log in cached_fleet(situation, seed=seed, count=cars, duration_s=duration_s):
        recording = prepare(log.recording(), log.car).recording
        kept = {channel: recording.channels[channel] for channel in channels}
        try:
            floors = method(recording.with_channels(kept, Step(name="fewer")), log.car)
        except SignalError:
            continue
        for axle, floor in zip(AXLES, floors, strict=True):
            yield floor, tuple(getattr(log.truth.axles[axle], key) for key in KEYS)


def rms(values) -> float:
    return float(100 * np.sqrt(np.mean(np.square(values))))


def row(name: str, cars: int, seed: int) -> str:
    """One line of the table: errors and floors over the axles told."""
    axles = list(judged(name, cars, seed))
    cells = [name]
    for place, target in enumerate(SETS[name][-1]):
        kept = [(f, t[place]) for f, t in axles if f.told[place] is not None]
        if not kept:
            cells += [f"0/{2 * cars}", "", "", "", ""]
            continue
        errors = [np.log(f.told[place] / truth) for f, truth in kept]
        floor = rms([f.floor[place] for f, _ in kept])
        alone = [f.log_alone[place] for f, _ in kept]
        middle = 100 * float(np.median(alone))
        ratio = rms(errors) / floor
        missed = rms(errors) > target and (floor < target or ratio > LIMIT)
        cells += [
            f"{len(kept)}/{2 * cars}",
            f"{rms(errors):.2f} of {target:g}" + (" (missed)" if missed else ""),
            f"{floor:.2f}",
            f"{ratio:.2f}",
            f"{middle:.2f}" if middle < 100 else "none",
        ]
    return "| " + " | ".join(cells) + " |"


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sets", nargs="*", default=list(SETS))
    parser.add_argument("--cars", type=int, default=12)
    parser.add_argument("--seed", type=int, default=17)
    chosen = parser.parse_args()
    say = sys.stdout.write
    say(
        f"seed {chosen.seed}, {chosen.cars} cars each; rms over the axles told, in %, log alone "
        "the median\n"
    )
    head = ("told", "reached", "floor", "ratio", "log alone")
    say("| sensors | " + " | ".join([*head, *head]) + " |\n|" + " --- |" * 11 + "\n")
    for name in chosen.sets:
        say(row(name, chosen.cars, chosen.seed) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
