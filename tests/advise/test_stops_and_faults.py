"""Stops hit, tired dampers, friction, cautions."""

from __future__ import annotations

import pytest

from ridelog.advise.cautions import ALWAYS, LAW, Occasions, cautions
from ridelog.advise.springs import SpringAdvice
from ridelog.advise.stop_remedies import stop_remedies
from ridelog.advise.stop_words import stop_reasons, top_out_reason
from ridelog.advise.stops import StopEvidence, bump_stop_evidence
from ridelog.advise.tired_dampers import (
    find_imbalance,
    friction_reason,
    imbalance_reasons,
    latest_imbalance,
)
from ridelog.estimate.result import Contact, CornerResult, StopContacts
from tests.advise import builders

CLOSE = SpringAdvice(verdict="close", now_n_per_m=57e3, next_n_per_m=57e3)
STIFFER = SpringAdvice(verdict="change", now_n_per_m=57e3, next_n_per_m=66e3)


def evidence(**changes: object) -> StopEvidence:
    """Deep contacts with an ample gap that measures as stated."""
    values: dict[str, object] = {
        "corners": ("fl",),
        "contacts": 5,
        "per_minute": 1.7,
        "deepest_mm": 12.0,
        "measured_gap_mm": 44.0,
        "stated_gap_mm": 45.0,
    }
    return StopEvidence(**(values | changes))  # type: ignore[arg-type]


def first(found: StopEvidence, spring: SpringAdvice, over: tuple[float, float] | None) -> str:
    """What is advised first."""
    return stop_remedies(found, spring, over)[0].action


def test_remedies_follow_the_evidence() -> None:
    short_damping, right_damping = (0.7, 0.8), (0.95, 1.05)
    assert first(evidence(), CLOSE, short_damping) == "more bump damping"
    assert first(evidence(measured_gap_mm=30.0), CLOSE, right_damping).startswith("raise")
    assert first(evidence(measured_gap_mm=None, stated_gap_mm=20.0), CLOSE, None).startswith(
        "raise"
    )
    assert first(evidence(), STIFFER, right_damping) == "stiffer springs"
    assert first(evidence(deepest_mm=2.0), CLOSE, right_damping) == "more bump damping"
    ranked = [r.action for r in stop_remedies(evidence(), CLOSE, right_damping)]
    assert len(ranked) == 4
    assert ranked[-1].startswith("shorten")


def test_contacts_are_counted_over_both_corners() -> None:
    hit, clean = builders.corner_result(0.3, contacts=3, gap_mm=40.0), builders.corner_result(0.3)
    result = builders.axle_result(0.3)
    run = builders.run("a.csv", 6, result, corners={"fl": hit, "fr": clean}, duration_s=120.0)
    found = bump_stop_evidence(builders.axle(), "front", run.analysis)
    assert found is not None
    assert (found.corners, found.contacts, found.per_minute) == (("fl",), 3, 1.5)
    assert found.gap_mm == 40.0
    assert bump_stop_evidence(builders.axle(), "rear", run.analysis) is None


def test_doubtful_contacts_do_not_count() -> None:
    doubtful = CornerResult(
        bump_stop=StopContacts(
            contacts=(Contact(start_s=1, end_s=1.1, depth_mm=None, probability=0.3),)
        )
    )
    run = builders.run("a.csv", 6, builders.axle_result(0.3), corners={"fl": doubtful})
    assert bump_stop_evidence(builders.axle(), "front", run.analysis) is None


def test_stop_words() -> None:
    found = evidence(contacts=1, per_minute=0.2, deepest_mm=None)
    words = stop_reasons(found, stop_remedies(found, CLOSE, None))
    assert (
        words[0]
        == "Bump stops hit once (fl). That is seldom: after one pothole nothing needs doing."
    )
    assert words[1].startswith("Against it, best first: 1. ")


def test_a_drive_that_lives_on_its_stops_is_not_trusted() -> None:
    often, usual = (
        stop_reasons(
            evidence(contacts=n, per_minute=float(n)),
            stop_remedies(evidence(), CLOSE, None),
        )[0]
        for n in (27, 10)
    )
    assert "do not trust this run's damping" in often
    assert "do not trust" not in usual


def test_top_out_is_told() -> None:
    low = CornerResult(
        top_out=StopContacts(contacts=(Contact(start_s=1, end_s=1.1, depth_mm=1.0),))
    )
    run = builders.run("a.csv", 6, builders.axle_result(0.3), corners={"rl": low})
    assert "full droop once" in str(top_out_reason("rear", run.analysis))
    assert top_out_reason("front", run.analysis) is None


def corners_run(left: float, right: float, clicks: dict[str, int] | int = 6, file: str = "a.csv"):
    """A run whose front corners damp differently."""
    corners = {"fl": builders.corner_result(left), "fr": builders.corner_result(right)}
    return builders.run(file, clicks, builders.axle_result(0.3), corners=corners)


@pytest.mark.parametrize("share", [0.3, 0.5, 0.7])
@pytest.mark.parametrize("weak", ["fl", "fr"])
def test_tired_damper_is_named(share: float, weak: str) -> None:
    """Worn dampers at 30-70 % of their partner: common practice, no source."""
    pair = (0.3 * share, 0.3) if weak == "fl" else (0.3, 0.3 * share)
    found = find_imbalance(builders.car(), corners_run(*pair), "front")
    assert found is not None
    assert (found.weak, found.tired) == (weak, True)
    assert found.ratio.low < share < found.ratio.high
    words = " ".join(imbalance_reasons(found))
    assert f"({weak}) is weak" in words
    assert "swap the two dampers" in words


def test_small_difference_is_a_remark_and_none_is_nothing() -> None:
    uneven = find_imbalance(builders.car(), corners_run(0.255, 0.30), "front")
    assert uneven is not None
    assert not uneven.tired
    assert find_imbalance(builders.car(), corners_run(0.285, 0.30), "front") is None


def test_clicks_that_explain_the_difference_are_no_fault() -> None:
    car = builders.car()
    apart = {"fl": 4, "fr": 10, "rl": 6, "rr": 6}
    assert find_imbalance(car, corners_run(0.20, 0.31, apart), "front") is None
    assert find_imbalance(car, corners_run(0.20, 0.31, 6), "front") is not None


def test_latest_measured_pair_counts() -> None:
    car = builders.car()
    runs = [corners_run(0.15, 0.30), corners_run(0.30, 0.30, file="b.csv")]
    assert latest_imbalance(car, runs, "front") is None
    blind = builders.run(
        "c.csv",
        6,
        builders.axle_result(0.3),
        corners={c: builders.corner_result(None) for c in ("fl", "fr")},
    )
    assert latest_imbalance(car, [runs[0], blind], "front") is not None


def test_friction_points_to_bushings_first() -> None:
    """2 % of the static load on the spring: 400 kg x 9.80665 / 0.7 x 0.02 = 112 N."""
    low = builders.axle_result(0.3, friction_n=builders.estimate(105.0, 0.05))
    high = builders.axle_result(0.3, friction_n=builders.estimate(125.0, 0.05))
    assert friction_reason(builders.axle(), low) is None
    text = str(friction_reason(builders.axle(), high))
    assert text.index("bushings") < text.index("bent dampers")
    assert "2 mm above or below" in text  # 125 N / 56.9 N/mm


def test_cautions_fit_the_occasion() -> None:
    quiet = cautions(Occasions())
    assert quiet == (*ALWAYS, LAW)
    assert any("never watch a screen" in c for c in quiet)
    assert any("rated stands" in c for c in quiet)
    assert not any("loaded spring" in c for c in quiet)
    springs = cautions(Occasions(springs_change=True))
    for words in ("loaded spring", "coils do not bind", "clear everything"):
        assert any(words in c for c in springs)
    assert "bump stops" in cautions(Occasions(stops_hit=True))[0]
    assert any("little damping" in c for c in cautions(Occasions(little_damping=True)))
