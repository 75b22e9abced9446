"""Springs: published relations, worked examples, and what can be bought."""

from __future__ import annotations

from dataclasses import replace
from math import pi, sqrt

import pytest

from ridelog.advise.spring_rates import (
    SpringSettings,
    body_frequency_hz,
    springs_to_buy,
    tyre_rate_of,
    wheel_rate_for_frequency,
)
from ridelog.advise.spring_words import spring_reasons, travel_reason
from ridelog.advise.springs import advise_spring
from tests.advise import builders
from tests.advise.builders import LBF_PER_IN

POUND_KG = 0.45359237  # exact, NIST SP 811
TYRE = 220e3


def test_spring_for_a_wanted_frequency_by_the_worked_example() -> None:
    """1.9 Hz, corner 489.75 lb, tyre 2000 lb/in, motion ratio 0.728.

    Ride rate 180.64, wheel rate 198.57, spring 374.67 lb/in: computed with 386.4 in/s2, the method
    of Milliken & Milliken, Race Car Vehicle Dynamics, ch. 16 (inverse of springs in series). The
    textbook g differs from the standard one by 0.08 %, and 0.1 % in ride rate is 0.11 % in spring.
    """
    mass, tyre = 489.75 * POUND_KG, 2000 * LBF_PER_IN
    wheel = wheel_rate_for_frequency(1.9, mass, tyre)
    assert wheel is not None
    assert wheel / LBF_PER_IN == pytest.approx(198.57, rel=1.2e-3)
    assert wheel / 0.728**2 / LBF_PER_IN == pytest.approx(374.67, rel=1.2e-3)
    assert body_frequency_hz(wheel, mass, tyre) == pytest.approx(1.9, rel=1e-12)


def test_body_frequency_by_the_si_chain() -> None:
    """Spring 60 N/mm, motion ratio 0.75, tyre 200 N/mm, 300 kg: 33.750 N/mm and 1.5615 Hz."""
    assert body_frequency_hz(33.750e3, 300.0, 200e3) == pytest.approx(1.5615, abs=5e-5)


def test_barton_and_fieldhouse_rear_corner() -> None:
    """317.5 kg on 22 kN/m and a 192 kN/m tyre: ride rate 19.738 kN/m (ch. on ride, p. 209).

    Their 1.25 Hz is the first mode of the two-mass model; the ride-rate formula lies within 0.3 %.
    """
    assert body_frequency_hz(22e3, 317.5, 192e3) == pytest.approx(1.2539, rel=3e-3)


def test_no_spring_reaches_beyond_the_tyre() -> None:
    limit = sqrt(200e3 / 300.0) / (2 * pi)
    assert wheel_rate_for_frequency(limit * 1.001, 300.0, 200e3) is None


def test_steps_that_can_be_bought() -> None:
    pounds = [
        s.rate_n_per_m / LBF_PER_IN for s in springs_to_buy(builders.axle(), 342 * LBF_PER_IN)
    ]
    assert pounds == pytest.approx([325, 350])  # 25 lbf/in steps: common practice, no source
    own = builders.axle(available_spring_rates_n_per_m=(50e3, 70e3))
    assert [s.rate_n_per_m for s in springs_to_buy(own, 60e3)] == [50e3, 70e3]


def axle_with_truth(true_over_catalogue: float, target_hz: float, **changes: object):
    """An axle and its result whose spring strays from its catalogue rate."""
    axle = builders.axle(target_body_frequency_hz=target_hz, **changes)
    wheel = axle.spring_rate_n_per_m * true_over_catalogue * axle.motion_ratio**2
    frequency = body_frequency_hz(wheel, axle.sprung_mass_kg / 2, TYRE)
    result = builders.axle_result(
        0.3,
        body_frequency_hz=frequency,
        wheel_rate_n_per_m=builders.estimate(wheel, 0.01),
        spring_frequency_hz=builders.estimate(sqrt(wheel / 400) / (2 * pi), 0.005),
    )
    return axle, result


@pytest.mark.parametrize("step", [-3, -2, -1, 1, 2, 4])
def test_honest_spring_finds_the_step_that_hits_the_target(step: int) -> None:
    """Target made from a spring on the shelf: exactly that one must be advised."""
    wanted = (325 + 25 * step) * LBF_PER_IN
    target = body_frequency_hz(wanted * 0.7**2, 400.0, TYRE)
    axle, result = axle_with_truth(1.0, target)
    advice = advise_spring(builders.car(axle), [builders.run("a.csv", 6, result)], "front")
    assert advice.verdict == "change"
    assert advice.next_n_per_m == pytest.approx(wanted)
    predicted = advice.predicted_frequency_hz
    assert predicted is not None
    assert predicted.value == pytest.approx(target, rel=1e-6)
    # Two standard deviations of a 3.5 % spring on this tyre, and of the reading.
    assert predicted.high / predicted.value - 1 == pytest.approx(0.032, abs=0.006)


def test_spring_that_strays_moves_the_advice_the_other_way() -> None:
    """A spring 8 % too stiff: half of that is expected of the next one too."""
    target = body_frequency_hz(425 * LBF_PER_IN * 0.7**2, 400.0, TYRE)
    axle, result = axle_with_truth(1.08, target)
    advice = advise_spring(builders.car(axle), [builders.run("a.csv", 6, result)], "front")
    assert advice.measured_rate_n_per_m == pytest.approx(325 * 1.08 * LBF_PER_IN)
    assert advice.ideal_rate_n_per_m == pytest.approx(425 / 1.08**0.5 * LBF_PER_IN, rel=1e-6)
    words = " ".join(spring_reasons(advice, axle, knob_first=True))
    assert "8 % more than the 56.9 N/mm (325 lbf/in) stated" in words
    assert "knobs first" in words


def test_no_change_where_the_target_lies_inside() -> None:
    axle, result = axle_with_truth(1.0, 1.246)
    advice = advise_spring(builders.car(axle), [builders.run("a.csv", 6, result)], "front")
    assert (advice.verdict, advice.next_n_per_m) == ("close", axle.spring_rate_n_per_m)
    assert advice.predicted_frequency_hz == result.body_frequency_hz


def test_no_change_where_the_log_cannot_tell() -> None:
    """7 % off the target, read to 8 %: a better spring is on the shelf, but nothing is proven."""
    axle, result = axle_with_truth(1.0, 1.33)
    vague = replace(result, body_frequency_hz=builders.estimate(1.243, 0.08))
    sure = replace(result, body_frequency_hz=builders.estimate(1.243, 0.01))
    verdicts = [
        advise_spring(builders.car(axle), [builders.run("a.csv", 6, r)], "front").verdict
        for r in (vague, sure)
    ]
    assert verdicts == ["close", "change"]


def test_no_change_for_a_gain_that_nobody_feels() -> None:
    """Target 3 % off; the nearest step lies 4 lbf/in beyond it and has a stray of its own."""
    target = body_frequency_hz((150 - 4) * LBF_PER_IN * 0.7**2, 400.0, TYRE)
    axle, result = axle_with_truth(
        1.0, target, spring_rate_n_per_m=137 * LBF_PER_IN, sprung_mass_kg=800.0
    )
    advice = advise_spring(builders.car(axle), [builders.run("a.csv", 6, result)], "front")
    assert (advice.verdict, advice.next_n_per_m) == ("close", axle.spring_rate_n_per_m)
    words = " ".join(spring_reasons(advice, axle, knob_first=False))
    assert "worth the money" in words


def test_no_change_where_nothing_nearer_can_be_bought() -> None:
    axle, result = axle_with_truth(1.0, 1.30, available_spring_rates_n_per_m=(70e3,))
    advice = advise_spring(builders.car(axle), [builders.run("a.csv", 6, result)], "front")
    assert (advice.verdict, advice.next_n_per_m) == ("close", axle.spring_rate_n_per_m)


def test_beyond_the_tyre_is_said() -> None:
    axle, result = axle_with_truth(1.0, 3.9)
    advice = advise_spring(builders.car(axle), [builders.run("a.csv", 6, result)], "front")
    assert (advice.verdict, advice.next_n_per_m) == ("beyond_tyre", None)
    assert "out of reach" in spring_reasons(advice, axle, knob_first=False)[0]


def test_without_a_frequency_or_a_target_nothing_is_guessed() -> None:
    unmeasured = builders.axle_result(0.3, body_frequency_hz=None)
    advice = advise_spring(builders.car(), [builders.run("a.csv", 6, unmeasured)], "front")
    assert (advice.verdict, advice.next_n_per_m) == ("unmeasured", None)
    axle = builders.axle(target_body_frequency_hz=None)
    run = builders.run("a.csv", 6, builders.axle_result(0.3))
    advice = advise_spring(builders.car(axle), [run], "front")
    assert (advice.verdict, advice.next_n_per_m) == ("no_target", None)


def test_perch_restores_the_height() -> None:
    """Static load 400 kg x 9.80665 / 0.7 = 5603.8 N: squash 98.5 mm at 325, 128.0 mm at 250."""
    target = body_frequency_hz(250 * LBF_PER_IN * 0.7**2, 400.0, TYRE)
    axle, result = axle_with_truth(1.0, target)
    advice = advise_spring(builders.car(axle), [builders.run("a.csv", 6, result)], "front")
    assert advice.next_n_per_m == pytest.approx(250 * LBF_PER_IN)
    assert advice.perch_up_m == pytest.approx(0.1280 - 0.0985, abs=2e-4)
    assert advice.sink_m == pytest.approx(advice.perch_up_m / 0.7)


def test_only_runs_on_the_present_spring_count() -> None:
    soft = builders.axle_result(0.3, body_frequency_hz=1.1)
    now = builders.axle_result(0.3, body_frequency_hz=1.4)
    runs = [
        builders.run("a.csv", 6, soft),
        builders.run("b.csv", 6, now, spring_rate_n_per_m={"fl": 75e3, "fr": 75e3}),
    ]
    advice = advise_spring(builders.car(), runs, "front")
    assert advice.now_n_per_m == 75e3
    assert advice.measured_frequency_hz == now.body_frequency_hz


def test_tyre_rate_from_the_file_the_log_or_a_usual_one() -> None:
    axle, result = axle_with_truth(1.0, 1.3)
    assert tyre_rate_of(axle, result, 0.05).rate_n_per_m == TYRE
    bare = replace(axle, tyre_rate_n_per_m=None)
    told = tyre_rate_of(bare, result, 0.05)
    assert told.rate_n_per_m == pytest.approx(TYRE, rel=1e-6)
    assert told.source == "from the log"
    usual = tyre_rate_of(bare, builders.axle_result(0.3, wheel_rate_n_per_m=None), 0.05)
    assert usual.rate_n_per_m == SpringSettings().default_tyre_rate_n_per_m
    assert usual.sd > 0.1


def test_travel_left_is_told_with_a_change() -> None:
    target = body_frequency_hz(250 * LBF_PER_IN * 0.7**2, 400.0, TYRE)
    axle, result = axle_with_truth(1.0, target)
    advice = advise_spring(builders.car(axle), [builders.run("a.csv", 6, result)], "front")
    text = travel_reason(advice, axle, (builders.corner_result(0.3), None))
    assert text == (
        "Of 45 mm bump travel the drive used 35 mm, 10 mm were left; load, braking and cornering "
        "will use 30 % more on the other springs. With the perch left where it is, the car would "
        "stand 30 mm nearer to the bump stop, at the damper."
    )
