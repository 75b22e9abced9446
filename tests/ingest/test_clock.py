"""Whatever a logger's clock is written in, seconds come out, and nothing is taken for granted."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.car.description import ChannelMapping, Logger
from ridelog.errors import ClockError

SECONDS = np.array([0.0, 0.002, 0.004, 0.006, 0.0085])


def table(header: str, stamps) -> str:
    rows = "".join(f"{stamp},{i}\n" for i, stamp in enumerate(stamps))
    return f"{header},travel_fl_mm\n{rows}"


@pytest.mark.parametrize(
    ("header", "per_second"),
    [
        ("time_s", 1),
        ("time_ms", 1e3),
        ("Time_us", 1e6),
        ("Time (s)", 1),
        ("time [ms]", 1e3),
        ("Time since start in ms ", 1e3),
        ("t_boot_s", 1),
        ("timestamp (µs)", 1e6),
        ("millis", 1e3),
        ("micros", 1e6),
        ("elapsed seconds", 1),
        ("Time_ns", 1e9),
        ("t (sec)", 1),
    ],
)
def test_the_unit_is_read_off_the_columns_name(header, per_second, read):
    raw = read(table(header, SECONDS * per_second))
    np.testing.assert_allclose(raw.time_s, SECONDS, rtol=1e-12, atol=1e-15)
    assert raw.source.remarks == ()


@pytest.mark.parametrize(
    ("unit", "per_second"), [("s", 1), ("ms", 1e3), ("us", 1e6), ("min", 1 / 60)]
)
def test_the_car_file_names_column_and_unit(unit, per_second, read):
    raw = read(table("tick", SECONDS * per_second), Logger(time_column="tick", time_unit=unit))
    np.testing.assert_allclose(raw.time_s, SECONDS, rtol=1e-12, atol=1e-15)


def test_the_contracts_name_wins_over_other_clocks(read):
    raw = read("time_ms,time_s,travel_fl_mm\n5,0,1\n9,0.002,2\n")
    np.testing.assert_array_equal(raw.time_s, [0, 0.002])


def test_a_bare_t_is_seconds_where_its_steps_say_so_and_that_is_said(read):
    raw = read(table("t", SECONDS))
    np.testing.assert_array_equal(raw.time_s, SECONDS)
    assert raw.source.remarks == (
        'time column "t" names no unit; its steps of 0.002 are taken as seconds',
    )


def test_a_bare_time_in_whole_steps_is_not_guessed(read):
    with pytest.raises(ClockError) as error:
        read(table("time", [0, 2, 4, 6, 8]))
    assert str(error.value) == (
        'drive.csv: time column "time" names no unit and steps by 2; say in the car file:'
        ' [logger] time = { column = "...", unit = "ms" }'
    )


def test_several_clocks_are_not_chosen_between(read):
    with pytest.raises(ClockError) as error:
        read("time_ms,time_us,travel_fl_mm\n5,0,1\n9,2000,2\n")
    assert str(error.value) == (
        'drive.csv: several time columns ("time_ms", "time_us"); say in the car file:'
        ' [logger] time = { column = "...", unit = "ms" }'
    )


def test_no_clock_at_all_is_refused(read):
    with pytest.raises(ClockError) as error:
        read("travel_fl_mm,temp\n1,20\n2,20\n")
    assert str(error.value) == (
        'drive.csv: no time column among "travel_fl_mm", "temp"; say in the car file: [logger]'
        ' time = { column = "...", unit = "ms" }, or sample_rate = "500 Hz" if it has none'
    )


def test_rows_count_at_a_stated_rate_where_there_is_no_clock(read):
    raw = read("travel_fl_mm,temp\n1,20\n2,20\n3,20\n", Logger(sample_rate_hz=200.0))
    np.testing.assert_allclose(raw.time_s, [0, 0.005, 0.010])


def test_a_sample_counter_with_a_stated_rate_shows_lost_samples(read):
    logger = Logger(time_column="n", time_unit="samples", sample_rate_hz=100.0)
    raw = read(table("n", [7, 8, 9, 14, 15]), logger)
    np.testing.assert_allclose(raw.time_s, [0.07, 0.08, 0.09, 0.14, 0.15])


@pytest.mark.parametrize("width", [2**8, 2**16, 2**32])
def test_a_counter_that_wraps_is_unwound(width, read):
    counts = (width - 3 + np.arange(8)) % width
    logger = Logger(time_column="n", time_unit="samples", sample_rate_hz=100.0)
    raw = read(table("n", counts), logger)
    np.testing.assert_allclose(np.diff(raw.time_s), 0.01, rtol=1e-6)
    assert raw.source.remarks == ("the clock's counter wrapped 1 times",)


def test_a_clock_that_jumps_back_a_little_is_no_wrap(read):
    raw = read(table("time_ms", [0, 2, 4, 3, 6]))
    np.testing.assert_allclose(raw.time_s, [0, 0.002, 0.004, 0.003, 0.006])


@pytest.mark.parametrize(
    "stamps",
    [
        ["2026-05-02T10:00:00.000", "2026-05-02T10:00:00.002", "2026-05-02T10:00:01"],
        ["2026-05-02 10:00:00.000Z", "2026-05-02 10:00:00.002Z", "2026-05-02 10:00:01.000Z"],
        ["2026-05-02T12:00:00.000+02:00", "2026-05-02T12:00:00.002+02:00", "2026-05-02T10:00:01Z"],
        ["2026-05-02 10:00:00:000", "2026-05-02 10:00:00:002", "2026-05-02 10:00:01:000"],
        ["10:00:00.000", "10:00:00.002", "10:00:01.000"],
        ["2026-05-02T23:59:59.999", "2026-05-03T00:00:00.001", "2026-05-03T00:00:00.999"],
    ],
    ids=["local", "zulu", "zones", "colon", "time-of-day", "midnight"],
)
def test_dates_and_times_become_seconds_after_the_first(stamps, read):
    raw = read(table("time", stamps))
    np.testing.assert_allclose(raw.time_s, [0, 0.002, 1.0], atol=1e-9)


def test_a_missing_date_and_time_is_a_missing_stamp(read):
    raw = read(table("time", ["2026-05-02T10:00:00", "", "2026-05-02T10:00:01"]))
    np.testing.assert_array_equal(raw.time_s, [0, np.nan, 1])


def test_text_that_is_no_time_is_refused(read):
    with pytest.raises(ClockError) as error:
        read(table("time", ["soon", "later", "last"]))
    assert str(error.value) == (
        'drive.csv: time column "time": "soon" is neither a number nor a date and time such as'
        " 2026-05-02T10:00:00.002"
    )


def test_an_absent_mapped_clock_names_the_nearest(read):
    logger = Logger(
        time_column="tick_ms",
        time_unit="ms",
        channels={"travel_fl": ChannelMapping(column="d", unit="mm")},
    )
    with pytest.raises(ClockError) as error:
        read("ticks_ms,d\n0,1\n2,1\n", logger)
    assert str(error.value) == (
        'drive.csv: no column "tick_ms" (logger.time in the car file); nearest are "ticks_ms"'
    )


def test_a_clock_in_a_unit_of_something_else_is_refused(read):
    with pytest.raises(ClockError, match="is not that of a time"):
        read(table("tick", [0, 1, 2]), Logger(time_column="tick", time_unit="mm"))
