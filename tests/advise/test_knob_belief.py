"""The belief about a knob against brute force and closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.advise import knob_reach
from ridelog.advise.knob_belief import KnobReading, Side, believe
from ridelog.advise.knob_odds import (
    chance_within,
    expected_miss,
    mixture_quantiles,
    probability_nearer,
    probability_within,
    towards_target,
)
from ridelog.advise.knob_prior import KnobPrior, draw_particles, law_log_gain, level_mean
from ridelog.advise.knob_reach import expect_reach

CLICKS = 12
GRID = np.arange(CLICKS + 1) / CLICKS
SETTINGS = np.column_stack([GRID, np.zeros(CLICKS + 1)])


def reading(click: float, damping: float, sd: float = 0.04, **changes: object) -> KnobReading:
    """One reading with both sides at one click."""
    values: dict[str, object] = {
        "knob": (click / CLICKS, click / CLICKS),
        "log_damping_ratio": float(np.log(damping)),
        "sd": sd,
        "bias_sd": 0.02,
    }
    return KnobReading(**(values | changes))  # type: ignore[arg-type]


def moments(weight: np.ndarray, mean: np.ndarray, sd: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean and standard deviation of each mixture."""
    middle = weight @ mean
    return middle, np.sqrt(weight @ (mean - middle) ** 2 + sd**2)


def test_particles_follow_the_prior() -> None:
    prior = KnobPrior(particle_count=4096)
    particles = draw_particles(prior)
    share = np.bincount(particles.family.astype(int), minlength=6) / 4096
    np.testing.assert_allclose(share, [0.35, 0.20, 0.10, 0.10, 0.15, 0.10], atol=0.01)
    # Truncated normal distribution: mean and sd by numerical integration on a fine grid.
    grid = np.linspace(prior.range_low, prior.range_high, 20001)
    density = np.exp(-0.5 * ((grid - prior.range_mean) / prior.range_sd) ** 2)
    mean = (grid * density).sum() / density.sum()
    sd = np.sqrt(((grid - mean) ** 2 * density).sum() / density.sum())
    assert particles.log_range.mean() == pytest.approx(mean, abs=0.01)
    assert particles.log_range.std() == pytest.approx(sd, abs=0.01)
    assert np.log(particles.exponent).std() == pytest.approx(0.3, abs=0.01)


def test_every_law_rises_from_soft_to_its_range() -> None:
    particles = draw_particles(KnobPrior())
    gain = law_log_gain(particles, np.linspace(0, 1, 41))
    np.testing.assert_allclose(gain[:, 0], 0, atol=1e-12)
    np.testing.assert_allclose(gain[:, -1], particles.log_range, rtol=1e-12)
    assert np.diff(gain, axis=1).min() >= -1e-12


def test_half_way_values_of_the_laws_by_hand() -> None:
    particles = draw_particles(KnobPrior(exponent_log_sd=1e-9))
    half = law_log_gain(particles, np.array([0.5]))[:, 0]
    stiff = np.exp(particles.log_range)
    family = particles.family.astype(int)
    # c from 1 to stiff: geometric mean, arithmetic mean, harmonic mean.
    by_hand = [np.sqrt(stiff), (1 + stiff) / 2, 2 / (1 + 1 / stiff)]
    for index, expected in enumerate(by_hand):
        chosen = family == index
        assert chosen.sum() > 10
        np.testing.assert_allclose(np.exp(half[chosen]), expected[chosen], rtol=1e-6)


def test_stepped_knobs_make_most_of_their_range_within_a_fifth_of_the_travel() -> None:
    particles = draw_particles(KnobPrior())
    stepped = particles.family == 5
    steepest = np.diff(law_log_gain(particles, np.linspace(0, 1, 101))[stepped], axis=1)
    most = np.convolve(steepest.mean(0), np.ones(20)).max() / particles.log_range[stepped].mean()
    each = [np.convolve(rise, np.ones(20)).max() for rise in steepest]
    # 60 % in the step and a fifth of the other 40 % beside it: 68 %.
    np.testing.assert_allclose(each / particles.log_range[stepped], 0.68, atol=0.02)
    assert most < 0.68  # the steps lie in different places


def test_a_target_in_reach_favours_the_knobs_that_reach_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Against counting: knobs from the belief, targets evenly from what each of them reaches."""
    belief = believe((reading(9, 0.30, sd=0.005, bias_sd=0.005),), SETTINGS)
    target, width = 0.50, 0.02
    unsure = expect_reach(belief, target)
    monkeypatch.setattr(knob_reach, "REACHABLE_SHARE", 1.0)
    monkeypatch.setattr(knob_reach, "REACH_MARGIN", 0.0)
    sure = expect_reach(belief, target)
    rng = np.random.default_rng(6)
    pick = rng.choice(len(belief.weight), p=belief.weight, size=400_000)
    soft, stiff = (
        belief.mean[pick, end] + belief.sd[end] * rng.standard_normal(len(pick)) for end in (0, -1)
    )
    wanted = rng.uniform(soft, np.maximum(stiff, soft + 1e-3))
    hits = np.abs(wanted - np.log(target)) < width
    counted = float(belief.mean[pick[hits], -1].mean())
    before, half, after = (float(b.weight @ b.mean[:, -1]) for b in (belief, unsure, sure))
    assert after == pytest.approx(counted, abs=0.02)
    assert before + 0.05 < half < after  # one owner in ten wants what no knob was made for


def test_a_target_out_of_reach_leaves_the_belief_alone() -> None:
    belief = believe((reading(0, 0.30), reading(12, 0.36)), SETTINGS)
    weighed = expect_reach(belief, 0.90)
    np.testing.assert_allclose(weighed.weight, belief.weight, rtol=1e-3)


def test_posterior_agrees_with_brute_force() -> None:
    """Many random knobs, weighted by how well they explain two readings."""
    prior = KnobPrior(particle_count=4096)
    readings = (reading(4, 0.24), reading(8, 0.31))
    belief = believe(readings, SETTINGS, prior=prior)
    middle, sd = moments(belief.weight, belief.mean, belief.sd)

    rng = np.random.default_rng(11)
    count, wanted = 400_000, [2, 4, 6, 8, 11]
    particles = draw_particles(prior)
    pick = rng.integers(0, 4096, count)
    law = law_log_gain(particles, GRID)[:, wanted]
    apart = GRID[wanted][:, None] - GRID[wanted][None]
    wiggle = prior.wiggle_sd**2 * np.exp(-0.5 * (apart / prior.wiggle_length) ** 2)
    factor = np.linalg.cholesky(wiggle + prior.click_sd**2 * np.eye(5))
    knob = (
        level_mean(prior, particles)[pick, None]
        + law[pick]
        + prior.level_sd * rng.standard_normal((count, 1))
        + rng.standard_normal((count, 5)) @ factor.T
    )
    bias = 0.02 * rng.standard_normal(count)
    miss = [np.log(0.24) - knob[:, 1] - bias, np.log(0.31) - knob[:, 3] - bias]
    weight = np.exp(-0.5 * ((miss[0] / 0.04) ** 2 + (miss[1] / 0.04) ** 2))
    weight /= weight.sum()
    expected = weight @ knob
    expected_sd = np.sqrt(weight @ (knob - expected) ** 2)
    np.testing.assert_allclose(middle[wanted], expected, atol=0.01)
    np.testing.assert_allclose(sd[wanted], expected_sd, rtol=0.05)


def test_uneven_reading_moves_the_law_like_its_exact_equal_reading() -> None:
    """The axle shows the mean of two coefficients, so that mean must come out as read."""
    uneven = KnobReading(
        knob=(3 / CLICKS, 9 / CLICKS), log_damping_ratio=np.log(0.30), sd=0.01, bias_sd=1e-4
    )
    belief = believe((uneven,), SETTINGS)
    sides = np.exp(belief.mean[:, 3]) / 2 + np.exp(belief.mean[:, 9]) / 2
    assert float(belief.weight @ sides) == pytest.approx(0.30, rel=0.02)


def test_bias_cannot_be_driven_away_but_noise_can() -> None:
    many = tuple(reading(6, 0.30) for _ in range(50))
    belief = believe(many, SETTINGS)
    _, sd = moments(belief.weight, belief.mean, belief.sd)
    assert sd[6] == pytest.approx(0.02, rel=0.1)  # what is left is the bias
    other = tuple(reading(6, 0.30, method=str(i)) for i in range(50))
    belief = believe(other, SETTINGS)
    _, sd = moments(belief.weight, belief.mean, belief.sd)
    assert sd[6] < 0.01  # biases of unrelated sensors average out


def test_next_reading_is_less_sure_than_the_truth() -> None:
    belief = believe((reading(6, 0.30),), SETTINGS)
    assert (belief.measured_sd > belief.sd).all()
    # The very same drive again: both readings' noise, the bias shared.
    expected = np.sqrt(2) * 0.04
    assert belief.measured_sd[6] == pytest.approx(expected, rel=0.05)


def test_carried_runs_share_one_error() -> None:
    carried = tuple(reading(6, 0.30, springs="old", carry_sd=0.05) for _ in range(50))
    belief = believe(carried, SETTINGS)
    _, sd = moments(belief.weight, belief.mean, belief.sd)
    assert sd[6] == pytest.approx(np.hypot(0.05, 0.02), rel=0.1)


def test_other_knob_leaks() -> None:
    side = Side(has_other_knob=True)
    pairs = np.array([[0.5, 0.0], [0.5, 1.0]])
    belief = believe((reading(6, 0.30),), pairs, side=side)
    rise = float(belief.weight @ (belief.mean[:, 1] - belief.mean[:, 0]))
    assert rise == pytest.approx(KnobPrior().cross_mean, abs=0.01)


def test_readings_that_fit_no_law_widen_the_belief() -> None:
    calm = believe((reading(3, 0.22), reading(9, 0.33)), SETTINGS)
    odd = believe((reading(3, 0.22), reading(9, 0.10)), SETTINGS)
    assert calm.misfit < 1 < odd.misfit
    assert odd.sd[6] > 1.2 * calm.sd[6]


def test_believe_needs_a_reading() -> None:
    with pytest.raises(ValueError, match="at least one reading"):
        believe((), SETTINGS)


def test_quantiles_of_one_and_of_two_normals() -> None:
    one = mixture_quantiles(np.ones(1), np.array([[2.0]]), np.array([0.5]), (0.025, 0.5, 0.975))
    # 1.959964: table of the standard normal distribution.
    np.testing.assert_allclose(one[:, 0], [2 - 0.979982, 2, 2 + 0.979982], atol=1e-3)
    rng = np.random.default_rng(4)
    draws = np.concatenate([rng.normal(0, 1, 700_000), rng.normal(3, 1, 300_000)])
    two = mixture_quantiles(
        np.array([0.7, 0.3]), np.array([[0.0], [3.0]]), np.array([1.0]), (0.1, 0.6, 0.95)
    )
    np.testing.assert_allclose(two[:, 0], np.quantile(draws, [0.1, 0.6, 0.95]), atol=0.01)


def test_odds_against_counting() -> None:
    belief = believe((reading(6, 0.30),), SETTINGS)
    rng = np.random.default_rng(5)
    pick = rng.choice(len(belief.weight), p=belief.weight, size=400_000)
    draws = np.exp(belief.mean[pick, 9] + belief.sd[9] * rng.standard_normal(400_000))
    within = probability_within(belief, 0.35, 0.10)[9]
    assert within == pytest.approx(np.mean(np.abs(draws / 0.35 - 1) <= 0.10), abs=0.005)
    miss = expected_miss(belief, 0.35)[9]
    assert miss == pytest.approx(np.abs(np.log(draws / 0.35)).mean(), rel=0.01)


def test_nearer_needs_the_middle_on_the_right_side() -> None:
    belief = believe((reading(6, 0.30, sd=0.005, bias_sd=1e-4),), SETTINGS, SETTINGS[[6, 6]])
    steps = np.arange(CLICKS + 1.0) - 6
    nearer = probability_nearer(belief, 0.60, steps)
    assert nearer[5] < 0.01  # softer moves away
    assert nearer[6] == 0
    assert nearer[7] > 0.99
    assert probability_nearer(belief, 0.30, steps).max() < 0.6


def test_chance_within_by_table() -> None:
    # 0.2 % short of +-10 % at sd 5 %: normal table, -2.107 and 1.906 standard deviations.
    assert chance_within(0.35, 0.05, 0.35) == pytest.approx(0.9718 - 0.0176, abs=0.001)


@pytest.mark.parametrize(
    ("readings", "lowest", "highest"),
    [
        ([(6, 0.30)], 6, 12),  # surely too soft
        ([(6, 0.40)], 0, 6),  # surely too stiff
        ([(6, 0.34)], 0, 12),  # not sure
        ([(6, 0.30), (9, 0.42)], 6, 9),  # bracketed
        ([(9, 0.25), (5, 0.45)], 0, 5),  # contradiction: the latest counts
    ],
)
def test_readings_leave_only_settings_towards_the_target(
    readings: list[tuple[float, float]], lowest: int, highest: int
) -> None:
    allowed = towards_target([reading(*r, sd=0.03) for r in readings], GRID, 0.35)
    assert np.flatnonzero(allowed).tolist() == list(range(lowest, highest + 1))
