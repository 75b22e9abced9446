"""What holds for any advice, whatever was read; its cost."""

from __future__ import annotations

import subprocess
import sys
import time
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelog.advise.next_step import advise
from ridelog.advise.readings import reading_spread
from ridelog.estimate.result import Estimate
from tests.advise import builders

readings = st.lists(
    st.tuples(st.integers(0, 18), st.floats(0.05, 1.5), st.floats(0.01, 0.4)),
    min_size=1,
    max_size=5,
)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(readings=readings, target=st.floats(0.15, 0.7))
def test_whatever_was_read(readings: list[tuple[int, float, float]], target: float) -> None:
    """Never outside the knob, never a state that contradicts the clicks, intervals in order."""
    axle = builders.axle(target_damping_ratio=target)
    runs = [
        builders.run(f"{i}.csv", clicks, builders.axle_result(value, relative_half_width=width))
        for i, (clicks, value, width) in enumerate(readings)
    ]
    front = advise(builders.car(axle, axle), runs).axles["front"]
    assert front.clicks.next in range(19)
    assert front.done == (front.state == "done")
    assert (front.clicks.next != front.clicks.now) == (front.state == "turn")
    predicted = front.predicted_damping_ratio
    assert predicted is not None
    assert 0 < predicted.low < predicted.value < predicted.high
    assert 0 <= front.probability_within_10_percent <= 1


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    clicks=st.integers(0, 18),
    value=st.floats(0.05, 1.5),
    width=st.floats(0.01, 0.4),
    target=st.floats(0.15, 0.7),
)
def test_never_away_from_the_target(clicks: int, value: float, width: float, target: float) -> None:
    """Read surely too soft: never softer; surely too stiff: never stiffer."""
    axle = builders.axle(target_damping_ratio=target)
    # The day's own spread and the rule's logarithms widen the interval by a few percent.
    result = builders.axle_result(value, relative_half_width=width)
    following = (
        advise(builders.car(axle, axle), [builders.run("a.csv", clicks, result)])
        .axles["front"]
        .clicks.next
    )
    if value * (1 + width) * 1.1 < target:
        assert following >= clicks
    if value * (1 - width) > target * 1.1:
        assert following <= clicks


def test_a_softer_reading_never_asks_for_a_softer_click() -> None:
    """The same click and target, less damping read: the advice goes up or stays."""
    following = [
        advise(builders.car(), [builders.run("a.csv", 8, builders.axle_result(float(value)))])
        .axles["front"]
        .clicks.next
        for value in np.linspace(0.15, 0.7, 23)
    ]
    assert following[0] > following[-1]
    assert all(a >= b for a, b in pairwise(following))


def test_advice_is_quick_and_repeatable() -> None:
    runs = [builders.run(f"{i}.csv", i + 3, builders.axle_result(0.2 + 0.02 * i)) for i in range(8)]
    first = advise(builders.car(), runs)
    begin = time.process_time()
    second = advise(builders.car(), runs)
    assert time.process_time() - begin < 0.4  # two axles
    assert first == second


def test_random_part_alone_moves_the_belief() -> None:
    """The lasting part of an interval is the same in every run; ten runs do not shrink it."""
    told = Estimate(
        value=0.30, low=0.27, high=0.33, random_half_width=0.006, systematic_half_width=0.0294
    )
    read = builders.axle_result(told, method="spectral fit")
    many = [builders.run(f"{i}.csv", 8, read) for i in range(10)]
    law = advise(builders.car(), many).axles["front"].knob_law
    assert law is not None
    assert (law.high[8] - law.low[8]) / 2 == pytest.approx(0.0294, rel=0.1)


def test_sensors_with_lasting_errors_come_to_an_end() -> None:
    """Two body sensors: 2 % by itself, 12 % in every run; repeats must not go on for ever."""
    told = Estimate(
        value=0.35, low=0.27, high=0.45, random_half_width=0.014, systematic_half_width=0.085
    )
    read = builders.axle_result(told, method="spectral fit")
    runs = [builders.run(f"{i}.csv", 8, read) for i in range(3)]
    front = advise(builders.car(), runs).axles["front"]
    assert (front.done, front.clicks.next) == (True, 8)
    assert "as far as these sensors can tell" in " ".join(front.reasons)


def test_importing_the_advice_is_light() -> None:
    code = (
        "import sys; import ridelog.advise.next_step; "
        "heavy = {'pandas', 'scipy', 'matplotlib', 'pint', 'pydantic', 'rich', 'click'}; "
        "sys.exit(', '.join(heavy & set(sys.modules)) or 0)"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )
    assert found.returncode == 0, found.stderr


def test_a_force_balance_repeats_better_than_its_interval() -> None:
    """Most of its interval is friction against bleed, alike in every run of one car."""
    told = builders.estimate(0.30, 0.20)
    own, lasting = reading_spread(told, method="force balance (all sensors)")
    other_own, _ = reading_spread(told, method="spectral fit")
    assert own < 0.06 < lasting < other_own < 0.12
    assert np.hypot(own, lasting) < other_own
