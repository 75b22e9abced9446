"""Accuracy of the advice: drives that simulated owners need, verdicts, coverage of predictions.

Run as ``python -m tests.bench.accuracy_advice [cars]``; prints one row per law and reading error.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.advise.owners import LAWS, Story, drive_and_turn

SEED = 20261
"""Not used while the rule was made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What a crowd of owners saw; shares of cars or of axles, drives as median and 90 % point."""

    law: str
    sd: float
    right_within_3: float
    right_median: float
    right_p90: float
    done_within_3: float
    done_median: float
    false_done: float
    never_done: float
    cover_first: float
    cover_later: float


def crowd(law: str, sd: float, cars: int, bias_sd: float = 0.02, seed: int = SEED) -> Row:
    """Let a crowd of owners follow the advice."""
    rng = np.random.default_rng(seed)
    return summarize(law, sd, [drive_and_turn(rng, law, sd, bias_sd) for _ in range(cars)])


def summarize(law: str, sd: float, stories: Sequence[Story]) -> Row:
    """Put a crowd's stories into one row; what never came counts as 9 drives."""
    right = np.array([story.right_at or 9 for story in stories])
    done = np.array([story.done_at or 9 for story in stories])
    held = np.array([story.done_right for story in stories])
    first = [hit for story in stories for hit in story.covered_first]
    later = [hit for story in stories for hit in story.covered_later]
    return Row(
        law=law,
        sd=sd,
        right_within_3=float((right <= 3).mean()),
        right_median=float(np.median(right)),
        right_p90=float(np.quantile(right, 0.9)),
        done_within_3=float(((done <= 3) & held).mean()),
        done_median=float(np.median(done)),
        false_done=sum(s.false_done for s in stories) / max(sum(s.axles_done for s in stories), 1),
        never_done=float((done > 8).mean()),
        cover_first=float(np.mean(first)) if first else float("nan"),
        cover_later=float(np.mean(later)) if later else float("nan"),
    )


def main() -> None:
    """Print the table."""
    cars = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    print(  # noqa: T201
        "both axles right: <=3 drives, median / p90 | done and right <=3, median, never | "
        "false done (axles) | coverage after 1 run, later"
    )
    for law in LAWS:
        for sd in (0.02, 0.04, 0.08):
            row = crowd(law, sd, cars)
            print(  # noqa: T201
                f"{row.law:22s} {100 * row.sd:3.0f} % | {row.right_within_3:.2f}  "
                f"{row.right_median:.0f} / {row.right_p90:.0f} | {row.done_within_3:.2f}  "
                f"{row.done_median:.0f}  {row.never_done:.2f} | {row.false_done:.3f} | "
                f"{row.cover_first:.3f}  {row.cover_later:.3f}"
            )


if __name__ == "__main__":
    main()
