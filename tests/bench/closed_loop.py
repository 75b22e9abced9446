"""The whole loop on simulated cars: drive, measure, ask for advice, set just that, drive again.

Run as ``python -m tests.bench.closed_loop [--cars N] [--sensors full|accel|two_accel] [--seed S]
[--situation nonlinear|usual] [--halves]``; prints one line per car and a table. Nothing of the
cars' truth reaches the advice. With ``--halves`` the first drive is two logs of half the length,
knobs turned a third of their travel in between, as `ridelog plan` says.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from ridelog.advise.next_step import advise
from ridelog.advise.plan_steps import third_of
from ridelog.advise.result import Advice
from ridelog.condition.prepare import prepare
from ridelog.estimate.result import AnalysisResult, Estimate
from ridelog.recording import AXLES, BODY_CHANNELS, HUB_CHANNELS
from ridelog.runs.analyze import results_of
from ridelog.runs.collect import Run
from ridelog.runs.setup import RunSetup
from ridelog.simulate.fleet import FULL, fleet_scenes
from ridelog.simulate.log import Scene, SimulatedLog, next_scene, simulate_logs
from ridelog.simulate.true_car import TrueCar
from ridelog.simulate.truth import truth_of

SENSORS = {
    "full": FULL,
    "accel": (*BODY_CHANNELS, *HUB_CHANNELS, "speed"),
    "two_accel": ("body_fl", "body_rl"),
}
WINDOW = 0.10
MOST_DRIVES = 7
START_RANGE = (0.07, 1.0)
TARGET_RANGE = (0.15, 0.70)
"""Damping ratios people drive with, and those they want; common practice, no source."""


@dataclass(kw_only=True)
class Story:
    """One car from the first drive to the last."""

    scene: Scene
    truths: dict[str, np.ndarray]
    first_half: Run | None = None
    runs: list[Run] = field(default_factory=list)
    advices: list[Advice] = field(default_factory=list)
    predictions: list[tuple[Estimate, Estimate, float]] = field(default_factory=list)
    beyond: int = 0

    def clicks(self, drive: int, axle: str) -> int:
        """Clicks of an axle in one drive, counted from 0."""
        setup = self.runs[drive].setup
        return setup.clicks[f"{axle[0]}l"] if setup else 0

    def target(self, axle: str) -> float:
        """What the owner wants."""
        return self.scene.car.target_damping_ratio[AXLES.index(axle)]

    def right(self, drive: int, axle: str) -> bool:
        """Whether an axle was truly within 10 % of its target."""
        return self.miss(drive, axle) <= WINDOW

    def miss(self, drive: int, axle: str) -> float:
        """How far an axle truly was from its target, relative; the last drive where it ended."""
        true = self.truths[axle][self.clicks(min(drive, len(self.runs) - 1), axle)]
        return float(abs(true / self.target(axle) - 1))

    @property
    def right_at(self) -> int | None:
        """First drive with both axles right, from 1."""
        for drive in range(len(self.runs)):
            if all(self.right(drive, axle) for axle in AXLES):
                return drive + 1
        return None

    @property
    def done_at(self) -> int | None:
        """Drive after which the advice was to stop, from 1."""
        return len(self.runs) if self.advices and self.advices[-1].done else None


def draw_scenes(
    sensors: str, seed: int, cars: int, duration_s: float, situation: str = "nonlinear"
) -> list[Scene]:
    """Draw cars that stand anywhere on their knobs and want anything their knobs reach."""
    rng = np.random.default_rng([seed, 4])
    scenes = fleet_scenes(situation, seed=seed, count=6 * cars, duration_s=duration_s)
    drawn = (_with_wish(scene, rng) for scene in scenes)
    chosen = [scene for scene in drawn if scene is not None][:cars]
    return [replace(scene, channels=SENSORS[sensors]) for scene in chosen]


def _with_wish(scene: Scene, rng: np.random.Generator) -> Scene | None:
    """Turn both knobs anywhere and draw targets; None where no knob of the car reaches one."""
    clicks: dict[str, int] = {}
    targets: list[float] = []
    for axle in AXLES:
        truth = damping_by_click(scene.car, axle)
        starts = np.flatnonzero((truth >= START_RANGE[0]) & (truth <= START_RANGE[1]))
        low, high = max(truth[0], TARGET_RANGE[0]), min(truth[-1], TARGET_RANGE[1])
        if not len(starts) or low >= high:
            return None
        target = round(float(np.exp(rng.uniform(np.log(low), np.log(high)))), 2)
        if np.abs(truth / target - 1).min() > 0.8 * WINDOW:
            return None
        clicks[axle] = int(rng.choice(starts))
        targets.append(target)
    car = replace(scene.car, target_damping_ratio=(targets[0], targets[1]))
    return replace(scene, car=car.with_clicks(front=clicks["front"], rear=clicks["rear"]))


def damping_by_click(car: TrueCar, axle: str) -> np.ndarray:
    """Return the true damping ratio of an axle at every click."""
    knob = car.axle(axle).knob
    assert knob is not None
    return np.array(
        [
            truth_of(car.with_clicks(front=click, rear=None)).axles[axle].damping_ratio
            if axle == "front"
            else truth_of(car.with_clicks(front=None, rear=click)).axles[axle].damping_ratio
            for click in range(knob.clicks + 1)
        ]
    )


def loop(
    sensors: str,
    seed: int,
    cars: int,
    duration_s: float = 60.0,
    situation: str = "nonlinear",
    *,
    halves: bool = False,
    most_drives: int = MOST_DRIVES,
) -> list[Story]:
    """Let every car follow the advice until it says done, or for `most_drives`.

    With `halves` a car's first drive is its `first_half`, at the clicks it came with, and its first
    run, a third of the knobs' travel towards the middle.
    """
    stories = [
        Story(scene=s, truths={axle: damping_by_click(s.car, axle) for axle in AXLES})
        for s in draw_scenes(sensors, seed, cars, duration_s, situation)
    ]
    going = stories
    turned = []
    if halves:
        shorter = draw_scenes(sensors, seed, cars, duration_s / 2, situation)
        for story, log in zip(stories, simulate_logs(shorter), strict=True):
            story.first_half = _run(log, 0, "a")
        turned = [_turned_a_third(scene) for scene in shorter]
    for drive in range(most_drives):
        scenes = [story.scene for story in going]
        logs = simulate_logs(turned if halves and drive == 0 else scenes)
        for story, log in zip(going, logs, strict=True):
            _after_drive(story, log, drive)
        going = [story for story in going if not story.advices[-1].done]
        if not going:
            break
    return stories


def _turned_a_third(scene: Scene) -> Scene:
    """Turn both knobs a third of their travel, away from the nearer end."""
    clicks = {}
    for name in AXLES:
        axle = scene.car.axle(name)
        assert axle.knob is not None
        turn = third_of(axle.knob.clicks)
        clicks[name] = axle.clicks[0] + (turn if 2 * axle.clicks[0] < axle.knob.clicks else -turn)
    return next_scene(scene, seed=scene.seed + 1, **clicks)


def _after_drive(story: Story, log: SimulatedLog, drive: int) -> None:
    """Measure, advise, and set the knobs as told."""
    story.runs.append(_run(log, drive))
    analysis = story.runs[-1].analysis
    if story.advices:
        _hold_against(story, analysis)
    before = [] if story.first_half is None else [story.first_half]
    advice = advise(log.car, [*before, *story.runs])
    story.advices.append(advice)
    told = {name: advice.axles[name].clicks.next for name in AXLES}
    for name, click in told.items():
        last = log.car.axle(name).clicks or 0
        story.beyond += click is not None and not (0 <= click <= last and click == int(click))
    story.scene = next_scene(
        story.scene,
        seed=story.scene.seed + (1 if story.first_half is None else 2),
        **{name: None if click is None else int(click) for name, click in told.items()},
    )


def _run(log: SimulatedLog, drive: int, part: str = "") -> Run:
    file = f"{log.name}-drive{drive + 1}{part}.csv"
    return Run(
        file=file, path=Path(file), setup=RunSetup(clicks=log.clicks), analysis=_measure(log)
    )


def _measure(log: SimulatedLog) -> AnalysisResult:
    return results_of(prepare(log.recording(), log.car), log.car)


def _hold_against(story: Story, analysis: AnalysisResult) -> None:
    """Note the last prediction beside what was measured then."""
    for name in AXLES:
        predicted = story.advices[-1].axles[name].predicted_damping_ratio
        measured = analysis.axles[name].damping_ratio
        if predicted is not None and measured is not None:
            true = story.truths[name][story.clicks(-1, name)]
            story.predictions.append((predicted, measured, float(true)))


def summary(stories: Sequence[Story]) -> dict[str, float]:
    """Put a crowd's stories into numbers; what never came counts as one drive too many."""
    right = np.array([story.right_at or MOST_DRIVES + 1 for story in stories])
    done = np.array([story.done_at or MOST_DRIVES + 1 for story in stories])
    called = [
        (story, axle) for story in stories for axle in AXLES if story.advices[-1].axles[axle].done
    ]
    held = [low.low <= read.value <= low.high for s in stories for low, read, _ in s.predictions]
    told = [
        result.damping_ratio.low <= story.truths[axle][story.clicks(i, axle)]
        and story.truths[axle][story.clicks(i, axle)] <= result.damping_ratio.high
        for story in stories
        for i, run in enumerate(story.runs)
        for axle in AXLES
        if (result := run.analysis.axles[axle]).damping_ratio is not None
    ]
    return {
        "cars": len(stories),
        **{f"median miss, drive {n + 1} [%]": _miss(stories, n) for n in range(3)},
        "median miss, last drive [%]": _miss(stories, MOST_DRIVES),
        "right, median drives": float(np.median(right)),
        "right, 90 % of cars": float(np.quantile(right, 0.9, method="higher")),
        "right within 2": float((right <= 2).mean()),
        "right within 3": float((right <= 3).mean()),
        "never right": float((right > MOST_DRIVES).mean()),
        "done, median drives": float(np.median(done)),
        "never done": float((done > MOST_DRIVES).mean()),
        "axles called done": len(called),
        "of these wrong": sum(not s.right(-1, a) for s, a in called),
        "predictions": len(held),
        "prediction holds": float(np.mean(held)) if held else float("nan"),
        "measured interval holds truth": float(np.mean(told)) if told else float("nan"),
        "advice beyond the knob": sum(story.beyond for story in stories),
    }


def _miss(stories: Sequence[Story], drive: int) -> float:
    """Median miss of all axles in one drive [%]."""
    return float(100 * np.median([s.miss(drive, axle) for s in stories for axle in AXLES]))


def story_lines(story: Story) -> list[str]:
    """One car's story in a few lines."""
    lines = [f"{story.scene.car.name}: right at {story.right_at}, done at {story.done_at}"]
    for axle in AXLES:
        steps = []
        for drive, (run, advice) in enumerate(zip(story.runs, story.advices, strict=True)):
            read = run.analysis.axles[axle].damping_ratio
            click = story.clicks(drive, axle)
            words = "none" if read is None else f"{read.value:.3f} ({read.low:.3f}-{read.high:.3f})"
            mark = "*" if story.right(drive, axle) else ""
            state = advice.axles[axle].state
            steps.append(
                f"{click}{mark}: true {story.truths[axle][click]:.3f} read {words} {state}"
            )
        knob = story.scene.car.axle(axle).knob
        what = f"{knob.family}, {knob.clicks} clicks" if knob else ""
        ends = story.truths[axle][[0, -1]]
        lines.append(
            f"  {axle} wants {story.target(axle):.2f} of {ends[0]:.2f}-{ends[1]:.2f} ({what}): "
            + "; ".join(steps)
        )
    return lines


def main(arguments: Sequence[str] | None = None) -> list[Story]:
    """Run the loop as asked on the command line and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cars", type=int, default=12)
    parser.add_argument("--sensors", choices=tuple(SENSORS), default="full")
    parser.add_argument("--seed", type=int, default=61)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--situation", choices=("nonlinear", "usual"), default="nonlinear")
    parser.add_argument("--halves", action="store_true")
    asked = parser.parse_args(arguments)
    stories = loop(
        asked.sensors, asked.seed, asked.cars, asked.seconds, asked.situation, halves=asked.halves
    )
    for story in stories:
        _say("\n".join(story_lines(story)))
    _say(f"\nsensors {asked.sensors}, seed {asked.seed}, {asked.seconds:g} s a drive")
    for name, value in summary(stories).items():
        _say(f"{name:32s} {value:g}")
    return stories


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
