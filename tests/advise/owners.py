"""Simulated owners: cars whose knobs follow laws of their own, driven, read with errors, advised.

The laws are written down here and not taken from the advice's own prior; the last three belong to
no family it knows. An owner drives, reads each axle with a run's own error and a bias that stays,
asks for advice, and does what it says.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ridelog.advise.next_step import advise
from ridelog.car.description import Car
from ridelog.estimate.result import Estimate
from ridelog.recording import AXLES, CORNERS_OF_AXLE
from ridelog.runs.collect import Run
from tests.advise import builders

Law = Callable[[np.random.Generator, np.ndarray, float], np.ndarray]


def _power(rng: np.random.Generator, u: np.ndarray, gain: float) -> np.ndarray:
    return np.log(gain) * u ** np.exp(0.3 * rng.standard_normal())


def _linear(rng: np.random.Generator, u: np.ndarray, gain: float) -> np.ndarray:
    return np.log1p((gain - 1) * u)


def _quadratic(rng: np.random.Generator, u: np.ndarray, gain: float) -> np.ndarray:
    return np.log1p((gain - 1) * u**2)


def _orifice(rng: np.random.Generator, u: np.ndarray, gain: float) -> np.ndarray:
    return -np.log1p(-(1 - 1 / gain) * u)


def _saturating(rng: np.random.Generator, u: np.ndarray, gain: float) -> np.ndarray:
    rate = rng.uniform(2, 5)
    return np.log1p((gain - 1) * (1 - np.exp(-rate * u)) / (1 - np.exp(-rate)))


def _irregular(rng: np.random.Generator, u: np.ndarray, gain: float) -> np.ndarray:
    steps = rng.gamma(1.5, size=len(u) - 1)
    return np.log(gain) * np.concatenate([[0.0], np.cumsum(steps) / steps.sum()])


def _stepped(rng: np.random.Generator, u: np.ndarray, gain: float) -> np.ndarray:
    edge = rng.uniform(0.25, 0.75)
    return np.log(gain) * (0.4 * u + 0.6 / (1 + np.exp(-(u - edge) / 0.05)))


LAWS: dict[str, Law] = {
    "log-power": _power,
    "linear": _linear,
    "quadratic": _quadratic,
    "orifice (1/c linear)": _orifice,
    "saturating": _saturating,
    "irregular": _irregular,
    "stepped": _stepped,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Owner:
    """One axle's true knob: log damping ratio at every click, where it starts, the target."""

    log_damping: np.ndarray
    start: int
    target: float

    def right(self, click: int) -> bool:
        """Whether a click is truly within 10 % of the target."""
        return bool(abs(np.exp(self.log_damping[click]) / self.target - 1) <= 0.10)


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """One car's test drives: which drive first stood right on both axles, when it was done.

    None where that did not happen in time. `false_done` counts axles called done at a wrong click;
    `covered` says of each prediction whether the next reading fell inside, the first drive's first.
    """

    right_at: int | None
    done_at: int | None
    done_right: bool
    axles_done: int
    false_done: int
    covered_first: tuple[bool, ...]
    covered_later: tuple[bool, ...]


def make_owner(rng: np.random.Generator, law: str) -> Owner:
    """Draw a knob that has a right click, 10 to 30 clicks, started in the middle two thirds."""
    while True:
        last = int(rng.integers(10, 31))
        soft, gain = rng.uniform(0.10, 0.26), rng.uniform(2.0, 7.0)
        log_damping = np.log(soft) + LAWS[law](rng, np.arange(last + 1) / last, gain)
        target = float(rng.uniform(0.28, 0.42))
        if np.abs(log_damping - np.log(target)).min() < 0.07:
            start = int(rng.integers(last // 6, last - last // 6 + 1))
            return Owner(log_damping=log_damping, start=start, target=target)


def drive_and_turn(
    rng: np.random.Generator, law: str, sd: float, bias_sd: float, drives: int = 7
) -> Story:
    """Follow the advice on one car until it says done, or for so many drives."""
    owners = {name: make_owner(rng, law) for name in AXLES}
    bias = {name: bias_sd * rng.standard_normal() for name in AXLES}
    car = _car_of(owners)
    clicks = {name: owner.start for name, owner in owners.items()}
    runs: list[Run] = []
    expected: dict[str, Estimate] = {}
    covered: tuple[list[bool], list[bool]] = ([], [])
    right_at = None
    for drive in range(1, drives + 1):
        readings = {
            name: float(
                np.exp(
                    owners[name].log_damping[clicks[name]] + bias[name] + sd * rng.standard_normal()
                )
            )
            for name in AXLES
        }
        for name, prediction in expected.items():
            hit = prediction.low <= readings[name] <= prediction.high
            covered[0 if drive == 2 else 1].append(hit)
        runs.append(_run(drive, clicks, readings, sd, bias_sd))
        right = {name: owner.right(clicks[name]) for name, owner in owners.items()}
        if right_at is None and all(right.values()):
            right_at = drive
        advice = advise(car, runs)
        if advice.done or drive == drives:
            done = [name for name in AXLES if advice.axles[name].done]
            return Story(
                right_at=right_at,
                done_at=drive if advice.done else None,
                done_right=advice.done and all(right.values()),
                axles_done=len(done),
                false_done=sum(not right[name] for name in done),
                covered_first=tuple(covered[0]),
                covered_later=tuple(covered[1]),
            )
        for name in AXLES:
            following = advice.axles[name].clicks.next
            assert following is not None
            clicks[name] = int(following)
            prediction = advice.axles[name].predicted_damping_ratio
            assert prediction is not None
            expected[name] = prediction
    raise AssertionError("unreachable")


def _car_of(owners: dict[str, Owner]) -> Car:
    described = {
        name: builders.axle(clicks=len(owner.log_damping) - 1, target_damping_ratio=owner.target)
        for name, owner in owners.items()
    }
    return builders.car(described["front"], described["rear"])


def _run(
    drive: int, clicks: dict[str, int], readings: dict[str, float], sd: float, bias_sd: float
) -> Run:
    whole = 1.96 * float(np.hypot(sd, bias_sd))
    results = {}
    for name, value in readings.items():
        told = Estimate(
            value=value,
            low=value * np.exp(-whole),
            high=value * np.exp(whole),
            random_half_width=1.96 * sd * value,
            systematic_half_width=1.96 * bias_sd * value,
        )
        results[name] = builders.axle_result(told, method="made up")
    by_corner = {corner: clicks[name] for name in AXLES for corner in CORNERS_OF_AXLE[name]}
    # No corner results: a pair's scatter is not what these owners are about.
    return builders.run(
        f"drive{drive}.csv",
        by_corner,
        results["front"],
        results["rear"],
        corners={c: builders.corner_result(None) for c in by_corner},
    )
