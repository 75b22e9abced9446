"""Coil bind, full droop, helpers and the owner's list of springs, against closed forms.

The axle of `builders` carries 400 kg x 9.80665 / 0.7 = 5603.8 N on each spring at ride height.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from ridelog.advise.spring_fit_words import fit_reasons
from ridelog.advise.spring_rates import body_frequency_hz
from ridelog.advise.spring_words import spring_reasons
from ridelog.advise.springs import SpringAdvice, advise_spring
from ridelog.car.springs import HelperSpring, InnerSpring, SpringOnSale, SpringStack, with_stack
from tests.advise import builders
from tests.advise.builders import LBF_PER_IN

LOAD = 400 * 9.80665 / 0.7
NOW = 325 * LBF_PER_IN


def advise(axle, true_over_stated: float = 1.0) -> SpringAdvice:
    """Advice after a drive on which the springs showed a rate over the stated one."""
    wheel = axle.spring_rate_n_per_m * true_over_stated * axle.motion_ratio**2
    frequency = body_frequency_hz(wheel, 400.0, 220e3)
    result = builders.axle_result(
        0.3, body_frequency_hz=frequency, wheel_rate_n_per_m=builders.estimate(wheel, 0.01)
    )
    return advise_spring(builders.car(axle), [builders.run("a.csv", 6, result)], "front")


def target_of(spring_rate: float) -> float:
    return body_frequency_hz(spring_rate * 0.7**2, 400.0, 220e3)


def test_room_before_the_coils_touch_and_load_at_full_droop() -> None:
    """250 mm free, 110 mm block: 140 mm less 5603.8 / 56.916 = 98.46 mm leaves 41.5 mm of bump.

    At 50 mm of droop 48.46 mm of squash are left: 2758 N.
    """
    stack = SpringStack(stated_rate_n_per_m=NOW, free_length_m=0.25, block_length_m=0.11)
    fit = advise(with_stack(builders.axle(), stack)).fit_now
    assert fit is not None
    assert fit.squash_m == pytest.approx(LOAD / NOW)
    assert fit.bind_travel_m == pytest.approx(0.0415, abs=5e-5)
    assert fit.needed_travel_m == pytest.approx(0.055)  # 45 mm gap and 10 mm of rubber
    assert fit.binds
    assert fit.droop_load_n == pytest.approx(2758, abs=1)
    assert not fit.loose
    assert fit.over_travel == ()


def test_a_stiff_spring_is_loose_at_full_droop() -> None:
    """200 N/mm is squashed by 28.0 mm only, droop takes 50."""
    axle = builders.axle(spring_rate_n_per_m=200e3, target_body_frequency_hz=target_of(200e3))
    advice = advise(axle)
    assert advice.fit_now is not None
    assert advice.fit_now.loose_m == pytest.approx(0.05 - LOAD / 200e3)
    assert advice.fit_now.droop_load_n == 0
    assert any("loose by 22 mm at full droop" in words for words in fit_reasons(advice, axle))


def on_sale(pounds: float, **facts: object) -> SpringOnSale:
    return SpringOnSale(rate_n_per_m=pounds * LBF_PER_IN, **facts)  # type: ignore[arg-type]


def test_the_nearest_spring_that_does_not_bind_is_chosen() -> None:
    """At 400 lbf/in the squash is 80.0 mm, and bump takes 55: 140 mm do, 120 do not."""
    short = on_sale(400, name="short", free_length_m=0.20, block_length_m=0.08)
    long = on_sale(390, name="long", free_length_m=0.25, block_length_m=0.11, price=60.0)
    dear = on_sale(390, name="dear", free_length_m=0.26, block_length_m=0.11, price=70.0)
    axle = builders.axle(
        springs_on_sale=(dear, short, long), target_body_frequency_hz=target_of(400 * LBF_PER_IN)
    )
    advice = advise(axle)
    assert advice.next_spring == long
    assert advice.refused is not None
    assert advice.refused[0] == short
    words = " ".join((*spring_reasons(advice, axle, knob_first=False), *fit_reasons(advice, axle)))
    assert "nearest of your list that fits is 68.3 N/mm (390 lbf/in)" in words
    assert 'the spring "long" of 68.3 N/mm (390 lbf/in), price 60' in words
    assert "does not fit: the coils touch 40 mm into bump" in words


def test_nothing_that_fits_is_no_change() -> None:
    short = on_sale(400, free_length_m=0.20, block_length_m=0.08)
    axle = builders.axle(
        springs_on_sale=(short,), target_body_frequency_hz=target_of(400 * LBF_PER_IN)
    )
    advice = advise(axle)
    assert advice.verdict == "close"
    assert advice.refused is not None


def test_another_free_length_moves_the_perch() -> None:
    """Squash falls from 98.46 to 80.00 mm, the spring is 20 mm shorter: perch 1.54 mm up."""
    stack = SpringStack(stated_rate_n_per_m=NOW, free_length_m=0.25, block_length_m=0.08)
    next_one = on_sale(400, free_length_m=0.23, block_length_m=0.08)
    axle = builders.axle(
        springs_on_sale=(next_one,), target_body_frequency_hz=target_of(400 * LBF_PER_IN)
    )
    advice = advise(with_stack(axle, stack))
    squash = LOAD / (400 * LBF_PER_IN) - LOAD / NOW
    assert advice.perch_up_m == pytest.approx(squash + 0.02, abs=1e-6)
    assert advice.perch_up_m == pytest.approx(1.54e-3, abs=2e-5)


def helped(travel_m: float, rate: float = 40e3, **changes: object):
    stack = SpringStack(
        stated_rate_n_per_m=NOW, helper=HelperSpring(rate_n_per_m=rate, travel_m=travel_m)
    )
    return with_stack(builders.axle(**changes), stack)


def test_a_closed_helper_opens_in_droop() -> None:
    """40 N/mm over 120 mm closes at 4800 N: (5603.8 - 4800) / 56.916 = 14.1 mm into droop.

    Below it the stack has 1 / (1/56.916 + 1/40) = 23.49 N/mm.
    """
    axle = helped(0.12)
    assert axle.spring_rate_n_per_m == pytest.approx(NOW)
    advice = advise(axle)
    fit = advice.fit_now
    assert fit is not None
    assert fit.helper_closes_m == pytest.approx(-(LOAD - 4800) / NOW)
    rates = {round(1000 * row.travel_m): row.rate_n_per_m for row in fit.over_travel}
    assert rates[0] == pytest.approx(NOW)
    assert rates[-25] == pytest.approx(23.49e3, rel=1e-3)
    soft = fit.over_travel[0].body_frequency_hz
    assert soft == pytest.approx(body_frequency_hz(23.49e3 * 0.49, 400.0, 220e3), rel=1e-3)
    words = " ".join(fit_reasons(advice, axle))
    assert "The helper is closed at ride height and closes 14 mm into droop" in words


def test_main_spring_for_a_stack_that_is_open_at_ride_height() -> None:
    """Helper of 120 N/mm open at ride height: the wanted stack of 45 N/mm takes a main of 72.

    1/45 - 1/120 = 1/72.
    """
    axle = helped(
        0.10,
        rate=120e3,
        target_body_frequency_hz=target_of(45e3),
        available_spring_rates_n_per_m=(50e3, 72e3, 90e3),
    )
    stack_now = 1 / (1 / NOW + 1 / 120e3)
    assert axle.spring_rate_n_per_m == pytest.approx(stack_now)
    advice = advise(axle)
    assert advice.ideal_rate_n_per_m == pytest.approx(72e3)
    assert (advice.now_n_per_m, advice.next_n_per_m) == (pytest.approx(NOW), 72e3)
    assert advice.rate_ratio == pytest.approx(45e3 / stack_now)
    assert advice.predicted_frequency_hz is not None
    assert advice.predicted_frequency_hz.value == pytest.approx(target_of(45e3))


def test_no_main_spring_makes_up_for_a_soft_open_helper() -> None:
    axle = helped(0.30, rate=40e3, target_body_frequency_hz=target_of(45e3))
    advice = advise(axle)
    assert (advice.verdict, advice.next_n_per_m) == ("beyond_helper", None)
    assert "helper is still open" in spring_reasons(advice, axle, knob_first=False)[0]


def test_a_cross_over_at_ride_height_is_told() -> None:
    axle = helped((LOAD - 100) / 40e3)
    words = " ".join(fit_reasons(advise(axle), axle))
    assert "the rate jumps in the middle of every drive" in words


def test_main_spring_round_an_inner_one_that_carries() -> None:
    """60 N/mm wanted with 15 N/mm inside carrying from 50 mm on: a main of 45 N/mm."""
    stack = SpringStack(stated_rate_n_per_m=NOW, inner=InnerSpring(rate_n_per_m=15e3, gap_m=0.05))
    axle = with_stack(builders.axle(target_body_frequency_hz=target_of(60e3)), stack)
    assert axle.spring_rate_n_per_m == pytest.approx(NOW + 15e3)
    assert advise(axle).ideal_rate_n_per_m == pytest.approx(45e3)


def test_progressive_spring_whose_points_and_rate_disagree() -> None:
    """30 N/mm rising by 25 N/mm in 100 mm: rate at 5603.8 N is sqrt(30^2 + 0.5 x 5603.8) N/mm."""
    stack = SpringStack(stated_rate_n_per_m=45e3, rate_points=((0.0, 30e3), (0.2, 80e3)))
    axle = with_stack(builders.axle(), stack)
    assert axle.spring_rate_n_per_m == pytest.approx((30**2 + 0.5 * LOAD) ** 0.5 * 1e3)
    words = " ".join(fit_reasons(advise(axle), axle))
    assert "By the spring's points it has 60.8 N/mm" in words
    assert "45 mm into bump 77" not in words
    honest = with_stack(builders.axle(), replace(stack, stated_rate_n_per_m=60e3))
    assert not any("By the spring's points" in w for w in fit_reasons(advise(honest), honest))


def test_what_a_spring_without_lengths_must_have_is_told() -> None:
    """400 lbf/in: 80 mm of squash and 55 mm of bump."""
    axle = builders.axle(target_body_frequency_hz=target_of(400 * LBF_PER_IN))
    words = " ".join(fit_reasons(advise(axle), axle))
    assert "free length less block length is more than 135 mm" in words
