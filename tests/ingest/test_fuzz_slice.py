"""A bounded slice of the fuzzing of every reader; the whole is tests/bench/fuzz_readers.py."""

from __future__ import annotations

import pytest

from ridelog.errors import RidelogError
from tests.bench.fuzz_readers import Kind, fuzz, kinds, outcome, report


def test_damaged_files_of_every_kind_give_a_result_or_one_line(tmp_path):
    every = kinds(tmp_path)
    fuzz(every, 450, 20261125, tmp_path)
    assert [kind.name for kind in every if kind.failures] == [], report(every)
    assert {kind.outcomes.total() for kind in every} == {50, 3}  # 3 of those that take long
    assert all(len(kind.outcomes) > 3 for kind in every if kind.one_in == 1), report(every)


def test_the_fuzzer_itself_sees_a_crash_and_a_second_line(tmp_path):
    def crash(path):
        raise IndexError("beyond")

    def two_lines():
        raise RidelogError("one\ntwo")

    broken = Kind("broken", [b"x" * 50], crash)
    fuzz([broken], 5, 1, tmp_path)
    assert len(broken.failures) == 5
    with pytest.raises(AssertionError, match="more than one line"):
        outcome(two_lines)


def test_a_header_with_too_few_names(read):
    raw = read("time_s,travel_fl_mm\n" + "".join(f"{i / 100},{i},7\n" for i in range(30)))
    assert raw.channels["travel_fl"][2] == pytest.approx(0.002)
