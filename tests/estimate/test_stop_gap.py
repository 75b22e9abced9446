"""Where the stops begin, from owed forces with known stops in them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.estimate.owed_force import STOPS, OwedForce
from ridelog.estimate.stop_equations import stop_equations
from ridelog.estimate.stop_gap import find_gaps, likely_knots
from ridelog.estimate.stop_shapes import (
    RatePrior,
    StopLaw,
    fit_stops,
    secant_rate,
    shape_equations,
)

RATE_HZ = 500.0
SHARE = np.array([[0.8, 0.8, 0.7, 0.7], [0.4, 0.4, -0.4, -0.4], [0.6, -0.6, 0.5, -0.5]])
NO_STOP_M = 1.0


def drive(
    gaps_mm: dict[int, float], *, seed: int, rate: float = 60e3, cubic: float = 1e8, loss: float = 0
) -> OwedForce:
    """A rough drive over four corners; `gaps_mm` by place in `STOPS`."""
    rng = np.random.default_rng(seed)
    count = int(30 * RATE_HZ)
    smooth = np.hanning(61) / np.sqrt(np.sum(np.hanning(61) ** 2))
    travel = np.stack(
        [0.011 * np.convolve(rng.normal(size=count), smooth, mode="same") for _ in range(4)]
    )
    speed = np.gradient(travel, 1 / RATE_HZ, axis=1)
    force = np.zeros_like(travel)
    for stop, gap in gaps_mm.items():
        axle, sign = STOPS[stop]
        pair = slice(2 * axle, 2 * axle + 2)
        depth = np.maximum(sign * travel[pair] - gap / 1e3, 0)
        lossy = np.maximum(1 + loss * sign * speed[pair], 0)
        force[pair] += sign * (rate * depth + cubic * depth**3) * lossy
    shake = 60 * np.sin(2 * np.pi * 38 * np.arange(count) / RATE_HZ)
    noise = np.stack(
        [
            60 * np.convolve(rng.normal(size=count), np.ones(5) / np.sqrt(5), mode="same") + shake
            for _ in range(3)
        ]
    )
    slow = 300 * np.sin(2 * np.pi * 0.15 * np.arange(count) / RATE_HZ)  # cornering
    return OwedForce(
        sample_rate_hz=RATE_HZ,
        owed_n=SHARE @ (force + 500.0 * travel) + noise + slow,  # a spring rate slightly wrong
        share=SHARE,
        travel_m=travel,
        speed_m_per_s=speed,
        whole=np.ones(count, dtype=bool),
        inside=np.ones(count, dtype=bool),
        fast_m_per_s=np.tile([-0.5, 0.5], (4, 1)),
        spring_rate_n_per_m=np.array([40e3, 40e3]),
        critical_damping_n_s_per_m=np.array([8e3, 8e3]),
    )


@pytest.mark.parametrize(
    ("rate", "cubic", "loss"), [(60e3, 1e8, 0.0), (200e3, 0.0, 0.0), (40e3, 3e8, 0.4)]
)
def test_the_touch_point_is_found_whatever_the_law(rate, cubic, loss):
    truth = {0: 24.0, 1: 28.0, 2: 26.0, 3: 22.0}
    found = find_gaps([drive(truth, seed=4, rate=rate, cubic=cubic, loss=loss)])
    assert set(found) == set(truth)
    for stop, gap in truth.items():
        assert found[stop].value == pytest.approx(gap, abs=2.0)
        assert found[stop].low < gap < found[stop].high
        assert found[stop].high - found[stop].low < 14.0


@pytest.mark.parametrize("stop", range(4))
def test_only_the_stop_that_was_touched_is_told(stop):
    found = find_gaps([drive({stop: 25.0}, seed=stop)])
    assert list(found) == [stop]
    assert found[stop].value == pytest.approx(25.0, abs=2.0)


@pytest.mark.parametrize("seed", range(3))
def test_no_stop_is_made_up(seed):
    assert find_gaps([drive({}, seed=seed)]) == {}


def test_a_force_as_soft_as_a_bent_spring_is_no_stop():
    assert find_gaps([drive({0: 24.0}, seed=3, rate=6e3, cubic=0.0)]) == {}


def test_readings_cut_off_in_the_hit_do_not_move_the_touch_point():
    whole = drive({0: 24.0}, seed=4)
    limit = 0.4 * np.abs(whole.owed_n[0]).max()
    cut = np.abs(whole.owed_n[0]) > limit
    assert cut.sum() > 20
    spoilt = replace(whole, owed_n=np.where(cut, limit / 2, whole.owed_n), whole=~cut)
    found = find_gaps([spoilt])
    assert found[0].value == pytest.approx(24.0, abs=2.0)


def test_two_stretches_tell_what_one_does():
    found = find_gaps([drive({0: 24.0}, seed=4), drive({0: 24.0}, seed=5)])
    assert list(found) == [0]
    assert found[0].value == pytest.approx(24.0, abs=1.5)


def test_a_car_that_stands_tells_nothing():
    standing = drive({}, seed=1)
    standing = replace(standing, travel_m=1e-4 * standing.travel_m, owed_n=0 * standing.owed_n)
    assert stop_equations([standing]) is None
    assert find_gaps([standing]) == {}


LOOSE = RatePrior(rates_n_per_m=np.full(4, 40e3), log_deviation=1.0)


@pytest.mark.parametrize(("loss", "loss_share"), [(0.0, 0.0), (0.3, 0.5), (0.6, 1.0)])
def test_the_law_of_the_stop_is_recovered_at_its_true_touch_point(loss, loss_share):
    log = drive({0: 24.0}, seed=4, rate=60e3, cubic=1e8, loss=loss)
    equations = stop_equations([log])
    knots = equations.knots_m[0]
    knot = int(np.argmin(np.abs(knots - 0.024)))
    fit = fit_stops(shape_equations(equations), {0: StopLaw(knot, loss_share)}, LOOSE)
    depth = float(log.travel_m[:2].max()) - 0.024
    assert fit.misfit < equations.misfit
    assert secant_rate(fit.strengths[0], depth) == pytest.approx(60e3 + 1e8 * depth**2, rel=0.1)


def test_what_is_believed_of_the_rate_costs_what_it_says():
    equations = stop_equations([drive({0: 24.0}, seed=4, rate=60e3, cubic=1e8)])
    knot = int(np.argmin(np.abs(equations.knots_m[0] - 0.024)))
    fit = fit_stops(shape_equations(equations), {0: StopLaw(knot, 0.0)}, LOOSE)
    wanted = np.log(fit.strengths[0][0] / 40e3) ** 2
    assert fit.penalized - fit.misfit == pytest.approx(wanted, rel=0.05)
    strong = replace(LOOSE, weight=1e7)
    held = fit_stops(shape_equations(equations), {0: StopLaw(knot, 0.0)}, strong, passes=20)
    assert held.strengths[0][0] == pytest.approx(40e3, rel=0.01)
    assert held.misfit > fit.misfit


@pytest.mark.parametrize("seed", range(3))
def test_a_damper_that_bends_where_it_is_fast_does_not_move_the_touch_point(seed):
    """Beyond the usual speeds a damper's curve is a guess, thousands of newtons out in a hit."""
    log = drive({0: 24.0, 3: 22.0}, seed=seed)
    speed = log.speed_m_per_s
    # A slow drive with fast hits: the fit saw a third of the speed and drew its line on from there.
    known = np.quantile(np.abs(speed), 0.7)
    excess = -6e3 * np.sign(speed) * np.maximum(np.abs(speed) - known, 0)
    assert np.abs(excess).max() > 1500.0
    bent = replace(
        log,
        owed_n=log.owed_n + SHARE @ excess,
        fast_m_per_s=np.tile([-known, known], (4, 1)),
    )
    found = find_gaps([bent])
    assert set(found) == {0, 3}
    assert found[0].value == pytest.approx(24.0, abs=1.5)
    assert found[3].value == pytest.approx(22.0, abs=1.5)


@pytest.mark.parametrize("shake_hz", [27.0, 38.0, 45.0])
def test_an_engine_that_shakes_the_body_does_not_move_the_touch_point(shake_hz):
    log = drive({0: 24.0}, seed=2, rate=30e3, cubic=1.5e8)
    shake = 800 * np.sin(2 * np.pi * shake_hz * np.arange(log.owed_n.shape[1]) / RATE_HZ)
    found = find_gaps([replace(log, owed_n=log.owed_n + np.array([[1.0], [0.4], [0.1]]) * shake)])
    assert list(found) == [0]
    assert found[0].value == pytest.approx(24.0, abs=1.5)
    assert found[0].high - found[0].low < 9.0


def test_what_was_not_tried_is_never_likelier_than_what_was():
    """A cubic spline through these swings to -1700 beside the cliff, and would tell 19 mm."""
    knots = np.arange(10, 40) * 1e-3
    misfits = np.where(knots < 0.0185, 20000.0, 20.0) + ((knots - 0.030) / 0.5e-3) ** 2
    value, low, high = likely_knots(knots, misfits)
    assert value == pytest.approx(0.030, abs=0.1e-3)
    # One standard deviation is half a millimetre.
    assert low == pytest.approx(0.030 - 1.96 * 0.5e-3, abs=0.2e-3)
    assert high == pytest.approx(0.030 + 1.96 * 0.5e-3, abs=0.2e-3)
