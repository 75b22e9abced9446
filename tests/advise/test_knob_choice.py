"""The rule: which setting next, when to stop."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.advise.knob_choice import Outlook, choose


def outlook(
    within: list[float],
    miss: list[float] | None = None,
    nearer: list[float] | None = None,
    allowed: list[bool] | None = None,
    reads: list[int] | None = None,
) -> Outlook:
    """An outlook; by default the likelier a setting, the nearer."""
    chance = np.array(within)
    return Outlook(
        within=chance,
        miss=np.array(miss) if miss else 0.3 * (1 - chance),
        nearer=np.array(nearer) if nearer else np.full(len(within), 0.5),
        allowed=np.array(allowed) if allowed else np.ones(len(within), dtype=bool),
        reads=np.array(reads, dtype=float) if reads else np.zeros(len(within)),
    )


def test_goes_to_the_likeliest() -> None:
    choice = choose(outlook([0.05, 0.3, 0.6, 0.4]), now=0, reading_sd=0.03)
    assert (choice.next, choice.state, choice.reason) == (2, "turn", "best")
    assert (choice.probability_now, choice.probability_next) == (0.05, 0.6)


def test_done_where_likely_enough() -> None:
    choice = choose(outlook([0.1, 0.90, 0.6]), now=1, reading_sd=0.03)
    assert (choice.next, choice.state, choice.reason) == (1, "done", "likely")


def test_noisy_readings_ask_for_less() -> None:
    assert choose(outlook([0.1, 0.75, 0.1]), now=1, reading_sd=0.05).state == "repeat"
    assert choose(outlook([0.1, 0.75, 0.1]), now=1, reading_sd=0.12).state == "done"


def test_done_where_the_gain_is_below_the_resolution() -> None:
    small_gain = outlook([0.90, 0.95], miss=[0.05, 0.02])
    assert choose(small_gain, now=0, reading_sd=0.03).reason == "resolved"
    assert choose(small_gain, now=0, reading_sd=0.01).state == "turn"


def test_unlikely_setting_is_not_done_for_a_small_gain() -> None:
    assert choose(outlook([0.40, 0.95], miss=[0.1, 0.08]), now=0, reading_sd=0.05).state == "turn"


def test_runner_up_teaches_more_than_the_same_again() -> None:
    choice = choose(outlook([0.2, 0.6, 0.4]), now=1, reading_sd=0.05)
    assert (choice.next, choice.state, choice.reason) == (2, "turn", "explore")


def test_a_rival_already_driven_teaches_nothing_new() -> None:
    tried = outlook([0.2, 0.6, 0.4], reads=[0, 1, 1])
    choice = choose(tried, now=1, reading_sd=0.05)
    assert (choice.next, choice.state, choice.reason) == (1, "done", "resolved")


@pytest.mark.parametrize(("reads", "state"), [(1, "repeat"), (2, "done")])
def test_the_same_again_is_asked_for_once(reads: int, state: str) -> None:
    best = outlook([0.1, 0.6, 0.3], reads=[0, reads, 0])
    assert choose(best, now=1, reading_sd=0.05).state == state


def test_repeats_where_the_rival_is_unlikely() -> None:
    choice = choose(outlook([0.1, 0.6, 0.3]), now=1, reading_sd=0.05)
    assert (choice.next, choice.state) == (1, "repeat")


def test_coarse_knob_is_done_at_its_nearest_click() -> None:
    """Clicks 40 % apart: none within 10 %, the present one surely the nearest."""
    choice = choose(
        outlook([0.0, 0.02, 0.0], miss=[0.5, 0.15, 0.3], nearer=[0.0, 0.0, 0.05]),
        now=1,
        reading_sd=0.03,
    )
    assert (choice.state, choice.reason) == ("done", "nearest")


def test_coarse_knob_moves_to_its_nearest_click() -> None:
    choice = choose(outlook([0.0, 0.02, 0.0], miss=[0.5, 0.15, 0.3]), now=0, reading_sd=0.03)
    assert (choice.next, choice.state) == (1, "turn")


def test_never_takes_a_forbidden_setting() -> None:
    choice = choose(outlook([0.9, 0.2, 0.3], allowed=[False, True, True]), now=1, reading_sd=0.03)
    assert choice.next == 2


def test_alone_at_the_end_is_done() -> None:
    choice = choose(
        outlook([0.5, 0.5, 0.1], allowed=[False, False, True], miss=[0.1, 0.1, 0.4]),
        now=2,
        reading_sd=0.03,
    )
    assert (choice.next, choice.state, choice.reason) == (2, "done", "nearest")


def test_lasting_errors_end_the_repeats() -> None:
    """12 % in every run: at most 59.5 % within 10 % (normal table, 0.833 sd), so 54 % is enough."""
    best = outlook([0.1, 0.56, 0.3])
    assert choose(best, now=1, reading_sd=0.13).state == "repeat"
    limited = choose(best, now=1, reading_sd=0.13, lasting_sd=0.12)
    assert (limited.next, limited.state, limited.reason) == (1, "done", "limited")
    lower = outlook([0.1, 0.50, 0.2])
    assert choose(lower, now=1, reading_sd=0.13, lasting_sd=0.12).state == "repeat"


@pytest.mark.parametrize(("joint", "state"), [(0.78, "done"), (0.72, "repeat")])
def test_two_knobs_must_both_be_likely(joint: float, state: str) -> None:
    """0.87 for each is 0.757 for both."""
    assert choose(outlook([0.1, joint]), now=1, reading_sd=0.03, knobs=2).state == state
