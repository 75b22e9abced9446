"""What the advice says where the car file, a setup or a drive leaves something out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ridelog.advise.knob_belief import KnobReading, believe
from ridelog.advise.next_step import advise
from ridelog.advise.wording import frequency_words
from ridelog.estimate.result import Estimate
from ridelog.recording import AXLES, Problem
from tests.advise import builders


def words(reasons: tuple[str, ...]) -> str:
    return " ".join(reasons)


def test_clicks_set_on_a_knob_that_the_car_file_does_not_know() -> None:
    axle = builders.axle(clicks=None)
    advice = advise(builders.car(axle, axle), [builders.run("a.csv", 6, builders.axle_result(0.5))])
    assert "add clicks = (highest click number) under [rear]" in words(advice.axles["rear"].reasons)


def test_no_targets_asks_for_them_and_not_for_a_drive() -> None:
    axle = builders.axle(target_damping_ratio=None)
    run = builders.run("a.csv", 6, builders.axle_result(0.5))
    advice = advise(builders.car(axle, axle), [run])
    assert all(advice.axles[name].state == "unknown" for name in AXLES)
    assert not advice.done
    assert "target_damping_ratio" in advice.next_run
    assert "no new drive" in advice.next_run


def test_one_target_missing_leaves_the_other_axle_its_advice() -> None:
    car = builders.car(builders.axle(), builders.axle(target_damping_ratio=None))
    advice = advise(car, [builders.run("a.csv", 6, builders.axle_result(0.5))])
    assert advice.next_run.startswith("Set the front at ")
    assert "rear: write its target_damping_ratio into the car file" in advice.next_run


def test_not_done_at_a_click_that_no_drive_has_told_anything_about() -> None:
    told, blank = builders.axle_result(0.30), builders.axle_result(None)
    first = [builders.run("a.csv", 6, told), builders.run("b.csv", 12, builders.axle_result(0.40))]
    following = advise(builders.car(), first).axles["front"].clicks.next
    assert following is not None
    assert 6 < following < 12
    unread = advise(builders.car(), [*first, builders.run("c.csv", int(following), blank)])
    assert unread.axles["front"].state == "repeat"
    assert unread.axles["front"].clicks.next == following
    assert "no drive has told the damping there" in words(unread.axles["front"].reasons)
    read = builders.run("c.csv", int(following), builders.axle_result(0.35))
    assert advise(builders.car(), [*first, read]).axles["front"].done


def test_faulty_logs_and_missing_setups_are_named() -> None:
    good = builders.run("b.csv", 6, builders.axle_result(0.3), date="2026-05-02")
    bare = builders.run("a.csv", None, builders.axle_result(0.4))
    upside_down = Problem(
        code="sign", channel="body_fl", text="body_fl is upside down", mended=True
    )
    faulty = replace(good, analysis=replace(good.analysis, problems=(upside_down,)))
    notes = advise(builders.car(), [bare, faulty]).notes
    assert "b.csv: body_fl is upside down." in notes
    assert any(note.startswith("a.csv: no setup file") and "before" in note for note in notes)
    assert not any("setup" in note for note in advise(builders.car(), [good]).notes)


def test_a_car_far_from_the_usual_does_not_pass_for_a_knob_of_unusual_range() -> None:
    def step(damping_ratio: float) -> float:
        reading = KnobReading(
            knob=(0.5, 0.5), log_damping_ratio=np.log(damping_ratio), sd=0.03, bias_sd=0.01
        )
        belief = believe((reading,), np.array([[0.5, 0.0], [0.8, 0.0]]))
        return float(np.diff(belief.weight @ belief.mean)[0])

    # Common practice, no source: half-way a road car's knob gives about 0.3; a car on long soft
    # springs or a racing damper may give a third or three times that, with the same kind of knob.
    usual = step(0.3)
    assert 0.67 * usual < step(0.1) < 1.5 * usual
    assert 0.67 * usual < step(0.9) < 1.5 * usual


def test_narrow_frequencies_show_a_third_place() -> None:
    assert frequency_words(Estimate(value=1.2709, low=1.2674, high=1.2744)) == (
        "1.271 Hz (95 %: 1.267 to 1.274)"
    )
    assert frequency_words(Estimate(value=1.28, low=1.26, high=1.30)) == (
        "1.28 Hz (95 %: 1.26 to 1.30)"
    )
