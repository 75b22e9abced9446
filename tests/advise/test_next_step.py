"""The advice as a whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.advise.knob_law_words import unproven_reason
from ridelog.advise.next_step import advise
from ridelog.advise.result import KnobLaw
from ridelog.estimate.result import Estimate
from ridelog.recording import CORNERS
from tests.advise import builders


def words(advice_reasons: tuple[str, ...]) -> str:
    """All reasons in one."""
    return " ".join(advice_reasons)


def test_one_run_too_soft() -> None:
    advice = advise(builders.car(), [builders.run("a.csv", 6, builders.axle_result(0.25))])
    front = advice.axles["front"]
    assert (front.state, front.direction, front.done, advice.done) == (
        "turn",
        "stiffer",
        False,
        False,
    )
    assert front.clicks.now == 6
    assert 6 < front.clicks.next <= 18
    assert front.predicted_damping_ratio is not None
    assert front.predicted_damping_ratio.low < 0.35 < front.predicted_damping_ratio.high
    assert front.knob_law is not None
    assert len(front.knob_law.clicks) == 19
    assert list(front.knob_law.damping_ratio) == sorted(front.knob_law.damping_ratio)
    said = words(front.reasons)
    for piece in (
        "a.csv at 6 from full soft",
        "0.250 (95 %: 0.240 to 0.260)",
        "29 % too low",
        "likeliest",
    ):
        assert piece in said
    assert f"Set the front at {front.clicks.next} from full soft" in advice.next_run
    assert "same stretch" in advice.next_run
    assert "3 minutes" in advice.next_run


def test_right_click_is_done() -> None:
    advice = advise(builders.car(), [builders.run("a.csv", 6, builders.axle_result(0.35))])
    front = advice.axles["front"]
    assert (front.state, front.done, advice.done) == ("done", True, True)
    assert front.clicks.next == front.clicks.now == 6
    assert front.clicks_with_next_spring == 6
    assert front.perch_turns == 0
    assert advice.next_run.startswith("Nothing is left to turn")


@pytest.mark.parametrize(("clicks", "damping", "word"), [(18, 0.25, "firmer"), (0, 0.50, "softer")])
def test_knob_that_cannot_reach_is_done_and_says_so(clicks: int, damping: float, word: str) -> None:
    run = builders.run("a.csv", clicks, builders.axle_result(damping))
    front = advise(builders.car(), [run]).axles["front"]
    assert (front.done, front.clicks.next) == (True, clicks)
    assert "cannot reach the target" in words(front.reasons)
    assert f"takes {word} valving" in words(front.reasons)


def test_target_out_of_reach_goes_to_the_end_and_stops_there() -> None:
    """Two runs show that full stiff gives about 0.3 where 0.6 is wanted."""
    axle = builders.axle(target_damping_ratio=0.6)
    runs = [
        builders.run("a.csv", 6, builders.axle_result(0.20)),
        builders.run("b.csv", 15, builders.axle_result(0.28)),
    ]
    front = advise(builders.car(axle, axle), runs).axles["front"]
    assert (front.state, front.clicks.next) == ("turn", 18)
    assert "expected to come nearest" in words(front.reasons)
    runs.append(builders.run("c.csv", 18, builders.axle_result(0.31)))
    front = advise(builders.car(axle, axle), runs).axles["front"]
    assert (front.done, front.clicks.next) == (True, 18)
    assert "cannot reach the target" in words(front.reasons)


def test_second_run_is_used() -> None:
    """The knob turned out steeper than usual: the second turn must be smaller than the first."""
    first = builders.run("a.csv", 4, builders.axle_result(0.20))
    step = advise(builders.car(), [first]).axles["front"].clicks.next
    second = builders.run("b.csv", int(step), builders.axle_result(0.45))
    front = advise(builders.car(), [first, second]).axles["front"]
    assert 4 < front.clicks.next < step
    # Straight line in logs between both readings, by hand.
    by_hand = 4 + (step - 4) * np.log(0.35 / 0.20) / np.log(0.45 / 0.20)
    assert front.clicks.next == pytest.approx(by_hand, abs=1.5)


def test_counts_from_stiff_where_the_owner_does() -> None:
    axle = builders.axle(clicks_from="stiff")
    advice = advise(
        builders.car(axle, axle), [builders.run("a.csv", 6, builders.axle_result(0.25))]
    )
    front = advice.axles["front"]
    assert front.clicks.now == 6  # inside: from full soft
    assert "a.csv at 12 from full stiff" in words(front.reasons)
    assert f"Set the front at {18 - front.clicks.next:g} from full stiff" in advice.next_run


def test_without_setup_only_the_direction() -> None:
    advice = advise(builders.car(), [builders.run("a.csv", None, builders.axle_result(0.25))])
    front = advice.axles["front"]
    assert (front.clicks.now, front.clicks.next) == (None, None)
    assert (front.state, front.direction) == ("turn", "stiffer")
    assert "a.setup.toml" in words(front.reasons)
    assert "go stiffer" in advice.next_run


def test_without_knob_only_the_direction() -> None:
    axle = builders.axle(clicks=None)
    advice = advise(
        builders.car(axle, axle), [builders.run("a.csv", {}, builders.axle_result(0.5))]
    )
    assert advice.axles["front"].clicks.next is None
    assert advice.axles["front"].direction == "softer"
    assert "names no knob" in words(advice.axles["front"].reasons)
    assert "count the clicks" not in advice.next_run


def test_click_beyond_the_knob_is_not_believed() -> None:
    advice = advise(builders.car(), [builders.run("a.csv", 25, builders.axle_result(0.25))])
    assert advice.axles["front"].clicks.next is None
    assert advice.axles["front"].direction == "stiffer"


def test_interval_below_zero_is_a_vague_reading() -> None:
    vague = Estimate(value=0.2, low=-0.1, high=0.5)
    front = advise(builders.car(), [builders.run("a.csv", 6, builders.axle_result(vague))]).axles[
        "front"
    ]
    assert front.clicks.next in range(19)
    assert not front.done


def test_unmeasured_axle_is_unknown_and_unguessed() -> None:
    blind = builders.axle_result(None, body_frequency_hz=None)
    run = builders.run("a.csv", 6, blind, builders.axle_result(0.35))
    advice = advise(builders.car(), [run])
    front = advice.axles["front"]
    assert (front.state, front.done, advice.done) == ("unknown", False, False)
    assert front.clicks.next is None
    assert front.predicted_damping_ratio is None
    assert front.spring_rate_n_per_m.next is None
    assert advice.runs[0].damping_ratio["front"] is None
    assert "No run tells the damping" in words(front.reasons)


def test_blind_run_is_listed_and_not_used() -> None:
    seen = builders.run("a.csv", 6, builders.axle_result(0.25))
    blind = builders.run("b.csv", 6, builders.axle_result(None))
    with_it, without = advise(builders.car(), [seen, blind]), advise(builders.car(), [seen])
    assert [run.file for run in with_it.runs] == ["a.csv", "b.csv"]
    assert with_it.runs[1].damping_ratio["front"] is None
    assert with_it.axles["front"].clicks == without.axles["front"].clicks


def test_no_target_no_click() -> None:
    axle = builders.axle(target_damping_ratio=None)
    advice = advise(builders.car(axle, axle), [builders.run("a.csv", 6, builders.axle_result(0.3))])
    assert advice.axles["front"].state == "unknown"
    assert "target_damping_ratio" in words(advice.axles["front"].reasons)


def test_tired_damper_holds_the_knobs() -> None:
    corners = {"fl": builders.corner_result(0.15), "fr": builders.corner_result(0.30)}
    run = builders.run("a.csv", 6, builders.axle_result(0.225), corners=corners)
    advice = advise(builders.car(), [run])
    front = advice.axles["front"]
    assert (front.weak_corner, front.done, front.state) == ("fl", False, "repeat")
    assert front.clicks.next == front.clicks.now == 6
    assert front.reasons[0].startswith("The left front damper (fl) is weak")
    assert "see to the left front damper first" in advice.next_run
    assert any("loaded spring" in caution for caution in advice.cautions)


def test_run_with_a_damper_since_replaced_is_left_out() -> None:
    corners = {"fl": builders.corner_result(0.10), "fr": builders.corner_result(0.30)}
    old = builders.run("old.csv", 6, builders.axle_result(0.20), corners=corners)
    new = builders.run("new.csv", 6, builders.axle_result(0.30))
    both, alone = advise(builders.car(), [old, new]), advise(builders.car(), [new])
    assert both.axles["front"].clicks == alone.axles["front"].clicks
    assert "old.csv not used" in words(both.axles["front"].reasons)


def test_damper_is_carried_over_a_change_of_springs() -> None:
    """44 % more rate is 1.2 times the frequency: damping ratio 0.36 then is 0.30 now."""
    stiff = {c: 325 * 1.44 * builders.LBF_PER_IN for c in CORNERS}
    before = [
        builders.run("a.csv", 6, builders.axle_result(0.30, body_frequency_hz=1.243)),
        builders.run("b.csv", 9, builders.axle_result(0.36, body_frequency_hz=1.243)),
    ]
    measured = builders.axle_result(
        None, body_frequency_hz=1.46, spring_frequency_hz=builders.estimate(1.32 * 1.2, 0.005)
    )
    after = builders.run("c.csv", 9, measured, spring_rate_n_per_m=stiff)
    front = advise(builders.car(), [*before, after]).axles["front"]
    assert front.knob_law is not None
    assert front.knob_law.damping_ratio[9] == pytest.approx(0.30, rel=0.02)
    assert front.clicks.next > 9
    assert "coefficient is kept" in words(front.reasons)


def test_clicks_with_the_next_spring_go_the_other_way() -> None:
    """A stiffer spring needs more damping for the same ratio."""
    axle = builders.axle(target_body_frequency_hz=1.45)
    run = builders.run("a.csv", 6, builders.axle_result(0.35))
    front = advise(builders.car(axle, axle), [run]).axles["front"]
    assert front.spring_rate_n_per_m.next > front.spring_rate_n_per_m.now
    assert front.clicks_with_next_spring > front.clicks.next
    assert front.perch_turns is None  # no thread pitch known
    threaded = replace(axle, perch_thread_pitch_m=0.002)
    front = advise(builders.car(threaded, threaded), [run]).axles["front"]
    assert front.perch_turns < 0  # stiffer springs are squashed less: perch down


def test_two_knobs_are_set_together() -> None:
    axle = builders.axle(clicks=None, bump_clicks=12, rebound_clicks=16)
    result = builders.axle_result(
        0.25,
        damping_ratio_bump=builders.estimate(0.21),
        damping_ratio_rebound=builders.estimate(0.29),
    )
    setup = {"bump_clicks": dict.fromkeys(CORNERS, 6), "rebound_clicks": dict.fromkeys(CORNERS, 5)}
    run = builders.run("a.csv", {}, result, **setup)
    advice = advise(builders.car(axle, axle), [run])
    front = advice.axles["front"]
    assert front.clicks.next is None
    assert front.bump_clicks is not None
    assert front.rebound_clicks is not None
    # Wanted 0.21 in bump (30 % of the sum: common practice) and 0.49 in rebound. More rebound
    # leaks into bump, so bump stays or goes softer.
    assert front.bump_clicks.next <= 6
    assert front.rebound_clicks.next > 8
    assert "bump" in advice.next_run
    assert advice.runs[0].bump_clicks == dict.fromkeys(CORNERS, 6)


def test_one_stroke_adjustable() -> None:
    axle = builders.axle(clicks=None, rebound_clicks=16)
    setup = {"rebound_clicks": dict.fromkeys(CORNERS, 5)}
    run = builders.run("a.csv", {}, builders.axle_result(0.25), **setup)
    front = advise(builders.car(axle, axle), [run]).axles["front"]
    assert front.rebound_clicks is not None
    assert front.rebound_clicks.next > 5
    assert front.clicks.next is None


def test_contradicting_runs_are_told() -> None:
    runs = [
        builders.run("a.csv", 4, builders.axle_result(0.45)),
        builders.run("b.csv", 14, builders.axle_result(0.20)),
    ]
    assert "contradict" in words(advise(builders.car(), runs).axles["front"].reasons)


def test_uneven_clicks_are_told() -> None:
    run = builders.run("a.csv", {"fl": 4, "fr": 8, "rl": 6, "rr": 6}, builders.axle_result(0.25))
    front = advise(builders.car(), [run]).axles["front"]
    assert front.clicks.now == 6
    assert "Set both alike" in words(front.reasons)


def test_needs_a_run() -> None:
    with pytest.raises(ValueError, match="at least one run"):
        advise(builders.car(), [])


def test_a_reading_wider_than_a_click_is_not_proven() -> None:
    """Thirty clicks of some 4 %, known to 10 %: says so, and which drives would settle it."""
    fine = builders.axle(clicks=30)
    wide = builders.axle_result(0.34, relative_half_width=0.10)
    front = advise(builders.car(fine, fine), [builders.run("a.csv", 14, wide)]).axles["front"]
    said = next(reason for reason in front.reasons if reason.startswith("Not proven"))
    assert "known to +-10 %, a click here does about" in said
    assert "drives of 3 minutes at each, on the same stretch" in said
    sharp = builders.axle_result(0.34, relative_half_width=0.02)
    other = advise(builders.car(), [builders.run("a.csv", 9, sharp)]).axles["front"]
    assert "Not proven" not in words(other.reasons)


def test_drives_that_settle_it_grow_with_the_square() -> None:
    """1.96 sd sqrt(2 / n) below a click: 3 % and 5 % a click take 2.8, so 3 drives."""
    law = KnobLaw(
        clicks=(0, 1, 2),
        damping_ratio=(0.30, 0.315, 0.33075),
        low=(0.2, 0.2, 0.2),
        high=(0.5, 0.5, 0.5),
    )
    reading = builders.estimate(0.315, 0.2)
    assert "3 drives of" in (unproven_reason(reading, law, 1, 0.03) or "")
    assert "one drive of" in (unproven_reason(reading, law, 1, 0.01) or "")
    assert "more drives than it is worth" in (unproven_reason(reading, law, 1, 0.08) or "")
