"""Bump and rebound knobs chosen together."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.advise.double_knobs import advise_two_knobs, mean_of, side_targets
from ridelog.advise.knob_belief import KnobReading
from ridelog.advise.readings import KnobHistory
from tests.advise import builders

LAST = 14


def reading(own: float, other: float, damping: float, sd: float = 0.03) -> KnobReading:
    """One side's reading at clicks of its own and the other knob."""
    return KnobReading(
        knob=(own / LAST,) * 2,
        other_knob=(other / LAST,) * 2,
        log_damping_ratio=float(np.log(damping)),
        sd=sd,
        bias_sd=0.02,
    )


def histories(
    drives: list[tuple[int, int, float, float]], sd: float = 0.03
) -> tuple[KnobHistory, KnobHistory]:
    """Histories from (bump click, rebound click, bump damping, rebound damping)."""
    bump = tuple(reading(b, r, value, sd) for b, r, value, _ in drives)
    rebound = tuple(reading(r, b, value, sd) for b, r, _, value in drives)
    now = drives[-1]
    return (
        KnobHistory(last=LAST, now=(now[0],) * 2, readings=bump),
        KnobHistory(last=LAST, now=(now[1],) * 2, readings=rebound),
    )


def test_targets_keep_the_mean() -> None:
    bump, rebound = side_targets(0.35)
    assert (bump + rebound) / 2 == pytest.approx(0.35)
    assert 2 <= rebound / bump <= 3  # common practice, no source


def test_mean_of_independent_sides() -> None:
    """Half-widths 0.03 and 0.04: 0.05 by Pythagoras, halved."""
    both = mean_of(builders.estimate(0.2, 0.15), builders.estimate(0.4, 0.10))
    assert both.value == pytest.approx(0.3)
    assert both.high - both.value == pytest.approx(0.025)
    assert both.value - both.low == pytest.approx(0.025)


def test_each_side_goes_its_own_way() -> None:
    advice = advise_two_knobs(*histories([(7, 7, 0.35, 0.30)]), side_targets(0.35))
    assert advice is not None
    assert advice.bump[1] < 7 < advice.rebound[1]
    assert advice.choice.state == "turn"


def test_right_pair_is_done() -> None:
    advice = advise_two_knobs(*histories([(7, 7, 0.21, 0.49)]), side_targets(0.35))
    assert advice is not None
    assert (advice.bump, advice.rebound, advice.choice.state) == ((7, 7), (7, 7), "done")
    assert advice.predicted[2].low < 0.35 < advice.predicted[2].high


def test_unknown_place_gives_no_advice() -> None:
    bump, rebound = histories([(7, 7, 0.2, 0.4)])
    lost = KnobHistory(last=LAST, now=None, readings=rebound.readings)
    assert advise_two_knobs(bump, lost, side_targets(0.35)) is None


@pytest.mark.slow
def test_owners_with_leaking_knobs_get_there() -> None:
    """Each knob moves the other side by up to 30 % over its travel; median four drives or fewer."""
    rng = np.random.default_rng(31)
    needed = []
    for _ in range(12):
        gains, leaks = rng.uniform(2.5, 6, 2), np.log1p(rng.uniform(0, 0.3, 2))
        soft = np.array([0.6, 1.4]) * rng.uniform(0.12, 0.2)
        wanted = np.array(side_targets(float(rng.uniform(0.3, 0.4))))
        clicks = rng.integers(3, LAST - 2, 2)
        drives: list[tuple[int, int, float, float]] = []
        for _ in range(7):
            share = clicks / LAST
            truth = soft * (1 + (gains - 1) * share) * np.exp(leaks * share[::-1])
            if np.abs(truth / wanted - 1).max() <= 0.10:
                break
            seen = truth * np.exp(0.03 * rng.standard_normal(2))
            drives.append((int(clicks[0]), int(clicks[1]), float(seen[0]), float(seen[1])))
            advice = advise_two_knobs(*histories(drives), (float(wanted[0]), float(wanted[1])))
            assert advice is not None
            clicks = np.array([advice.bump[1], advice.rebound[1]])
        needed.append(len(drives) + 1)
    assert np.median(needed) <= 4
    assert np.mean(np.array(needed) <= 5) >= 0.75
