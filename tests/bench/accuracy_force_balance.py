"""Print how well drives of random cars are measured by the force balance.

Run ``python -m tests.bench.accuracy_force_balance [SITUATION ...] [--cars N] [--seed S]``. Each log
goes the whole way from raw readings to results. Seeds below 100 were never used to choose a
setting. The last situations hold what the model does not: soft damper mounts, a twisting body, a
motion ratio that changes with travel, wrong masses.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import pytest

from ridelog.condition.prepare import prepare
from ridelog.condition.usable import usable_channels
from ridelog.estimate.drive import estimate_log
from ridelog.estimate.result import AnalysisResult, Estimate
from ridelog.recording import AXLES, CORNERS, CORNERS_OF_AXLE, Step
from ridelog.simulate.log import SimulatedLog
from tests.bench.fleet_cache import cached_fleet

HELD = ("linear", "nonlinear", "side", "stops", "dirty", "accel", "travel_body")
NOT_HELD = ("hysteresis", "flex", "varying_ratio", "wrong_mass", "unkind")
CARS_AT_ONCE = 12  # a chunk of a fleet that fits into a small memory
WEAK_SHARE = 0.75  # a damper this much below its partner is to be named
AXLE_QUANTITIES = (
    "body_frequency_hz",
    "damping_ratio",
    "damping_ratio_bump",
    "damping_ratio_rebound",
    "wheel_hop_hz",
    "friction_n",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One estimate beside its truth; errors count in `scale`."""

    situation: str
    car: str
    place: str
    quantity: str
    truth: float
    scale: float
    value: float | None
    low: float | None = None
    high: float | None = None
    random_half_width: float | None = None
    systematic_half_width: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One log: its readings, the axles called unequal, right or wrong, and processor time."""

    readings: tuple[Reading, ...]
    weak_named: int
    weak_true: int
    wrongly_named: int
    sound_axles: int
    cpu_s: float


def analyzed(log: SimulatedLog) -> AnalysisResult:
    """Results of one log by the way every log goes."""
    prepared = prepare(log.recording(), log.car)
    sound = usable_channels(prepared.recording, prepared.problems)
    kept = {n: v for n, v in prepared.recording.channels.items() if n in sound}
    recording = prepared.recording.with_channels(kept, Step(name="leave out"))
    return estimate_log(recording, log.car, prepared.problems, prepared.notes)


def judge(situation: str, log: SimulatedLog) -> Judged:
    """Analyze one log and set it beside its truth."""
    start = time.process_time()
    result = analyzed(log)
    cpu_s = time.process_time() - start
    weak_true = weak_named = wrongly_named = 0
    for axle in AXLES:
        left, right = (log.truth.corners[c].damping_ratio for c in CORNERS_OF_AXLE[axle])
        named = result.weak_corner.get(axle)
        weak = CORNERS_OF_AXLE[axle][0 if left < right else 1]
        if min(left, right) < WEAK_SHARE * max(left, right):
            weak_true += 1
            weak_named += named == weak
        else:
            # Between clearly weak and sound nothing is judged, but the stronger one is never weak.
            wrongly_named += named is not None and (named != weak or left == right)
    return Judged(
        readings=tuple(readings_of(situation, log, result)),
        weak_named=weak_named,
        weak_true=weak_true,
        wrongly_named=wrongly_named,
        sound_axles=len(AXLES) - weak_true,
        cpu_s=cpu_s,
    )


def readings_of(situation: str, log: SimulatedLog, result: AnalysisResult) -> Iterator[Reading]:
    """Every judged quantity of one log."""

    def reading(
        place: str, quantity: str, truth: float, scale: float, e: Estimate | None
    ) -> Reading:
        return Reading(
            situation=situation,
            car=log.name,
            place=place,
            quantity=quantity,
            truth=truth,
            scale=scale,
            value=e.value if e else None,
            low=e.low if e else None,
            high=e.high if e else None,
            random_half_width=e.random_half_width if e else None,
            systematic_half_width=e.systematic_half_width if e else None,
        )

    for axle in AXLES:
        for name in AXLE_QUANTITIES:
            truth = float(getattr(log.truth.axles[axle], name))
            scale = 1.0 if name == "friction_n" else truth
            yield reading(axle, name, truth, scale, getattr(result.axles[axle], name))
    for corner in CORNERS:
        truth_corner, found = log.truth.corners[corner], result.corners[corner]
        truth = truth_corner.damping_ratio
        yield reading(corner, "corner", truth, truth, found.damping_ratio)
        for point in found.damper_force:
            key = f"{point.speed_mps:+.3f}"
            scale = abs(truth_corner.force[f"{key[0]}0.200"])
            yield reading(corner, f"force {key}", truth_corner.force[key], scale, point.force_n)


def judge_situation(situation: str, cars: int, seed: int) -> Iterator[Judged]:
    """Judge the logs of one situation, chunk by chunk."""
    for chunk in range(-(-cars // CARS_AT_ONCE)):
        count = min(CARS_AT_ONCE, cars - chunk * CARS_AT_ONCE)
        for log in cached_fleet(situation, seed=seed + chunk, count=CARS_AT_ONCE)[:count]:
            yield judge(situation, log)


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """Errors in percent or newtons of one quantity, share told and share inside the interval."""

    rms: float
    bias: float
    covered: float
    told: int
    asked: int


def score(readings: list[Reading], *quantities: str) -> Score | None:
    """Score of one quantity, or of several pooled."""
    asked = [r for r in readings if r.quantity in quantities]
    told = [r for r in asked if r.value is not None]
    if not told:
        return None
    unit = 1.0 if quantities == ("friction_n",) else 100.0
    errors = np.array([unit * (r.value - r.truth) / r.scale for r in told])
    return Score(
        rms=float(np.sqrt(np.mean(errors**2))),
        bias=float(errors.mean()),
        covered=float(100 * np.mean([r.low <= r.truth <= r.high for r in told])),
        told=len(told),
        asked=len(asked),
    )


def force_names(readings: list[Reading]) -> list[str]:
    """Force points that were read at all."""
    return sorted({r.quantity for r in readings if r.quantity.startswith("force")})


HEAD = (
    "situation",
    "cars",
    "frequency (bias)",
    "damping (bias)",
    "bump",
    "rebound",
    "corner",
    "hop",
    "friction N",
    "force (worst)",
    "held: freq / damp / bump / reb / corner / fric / force",
    "s",
)


def table_row(situation: str, judged: list[Judged]) -> str:
    """One line of the table."""
    readings = [r for each in judged for r in each.readings]
    names = ("body_frequency_hz", "damping_ratio", "damping_ratio_bump", "damping_ratio_rebound")
    main = [score(readings, name) for name in (*names, "corner", "wheel_hop_hz", "friction_n")]
    points = force_names(readings)
    force = score(readings, *points)
    worst = max((s.rms for p in points if (s := score(readings, p))), default=float("nan"))
    held = [*main[:5], main[6], force]
    cells = [
        situation,
        str(len(judged)),
        *[f"{s.rms:.2f} ({s.bias:+.2f})" if s else "none" for s in main[:2]],
        *[f"{s.rms:.1f}" if s else "none" for s in main[2:]],
        f"{force.rms:.1f} ({worst:.1f})" if force else "none",
        " / ".join(f"{s.covered:.0f}" if s else "-" for s in held),
        f"{np.median([each.cpu_s for each in judged]):.1f}",
    ]
    missing = sum(s.asked - s.told for s in main[:2] if s)
    return "| " + " | ".join(cells) + " |" + (f" {missing} not told" if missing else "")


def weak_line(situation: str, judged: list[Judged]) -> str:
    """How often unequal dampers were named, and how often equal ones were."""
    return (
        f"{situation}: weak dampers named {sum(j.weak_named for j in judged)} of "
        f"{sum(j.weak_true for j in judged)}, healthy axles called weak "
        f"{sum(j.wrongly_named for j in judged)} of {sum(j.sound_axles for j in judged)}"
    )


def say(line: str, record: Path | None = None) -> None:
    """Write one line at once, and to the record where one is kept."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()
    if record is not None:
        with record.open("a", encoding="utf-8") as stream:
            stream.write(line + "\n")


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("situations", nargs="*", default=[*HELD, *NOT_HELD])
    parser.add_argument("--cars", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--append", type=Path, help="file to append the table to")
    parser.add_argument("--readings", type=Path, help="file to append every reading to, as JSON")
    chosen = parser.parse_args()
    say(f"\n{time.strftime('%Y-%m-%d')}, seeds from {chosen.seed}; errors rms in %", chosen.append)
    say("| " + " | ".join(HEAD) + " |", chosen.append)
    say("|" + " --- |" * len(HEAD), chosen.append)
    remarks = []
    for situation in chosen.situations:
        judged = list(judge_situation(situation, chosen.cars, chosen.seed))
        say(table_row(situation, judged), chosen.append)
        remarks.append(weak_line(situation, judged))
        if chosen.readings:
            lines = [json.dumps(asdict(r)) for each in judged for r in each.readings]
            with chosen.readings.open("a", encoding="utf-8") as stream:
                stream.write("\n".join(lines) + "\n")
    for remark in remarks:
        say(remark, chosen.append)


@pytest.mark.bench
@pytest.mark.slow
@pytest.mark.parametrize("situation", ["nonlinear", "travel_body"])
def test_the_force_balance_keeps_its_claims(situation: str) -> None:
    judged = list(judge_situation(situation, 12, 1))
    say(table_row(situation, judged))
    readings = [r for each in judged for r in each.readings]
    frequency, damping = score(readings, "body_frequency_hz"), score(readings, "damping_ratio")
    assert frequency is not None
    assert damping is not None
    assert frequency.rms < (0.15 if situation == "nonlinear" else 0.6)
    assert damping.rms < (2.5 if situation == "nonlinear" else 5.0)


if __name__ == "__main__":
    main()
