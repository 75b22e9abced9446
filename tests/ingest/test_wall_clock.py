"""Dates and times in the forms that loggers and spreadsheets write."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.car.description import ChannelMapping, Logger
from ridelog.errors import ClockError

STEPS = [0.0, 0.5, 1.0, 1.5]


def log(stamps, header="time,travel_fl_mm") -> str:
    return header + "\n" + "".join(f"{stamp},{i}\n" for i, stamp in enumerate(stamps))


@pytest.mark.parametrize(
    "stamps",
    [
        # month first, twelve hours, a fraction only where it is not zero
        ["5/2/2026 11:59:59 AM", "5/2/2026 11:59:59.5 AM", "5/2/2026 12:00:00 PM",
         "5/2/2026 12:00:00.5 PM"],
        # over midnight only the month-first reading is half a second long
        ["5/2/2026 23:59:59.5", "5/3/2026 00:00:00", "5/3/2026 0:00:00.5", "5/3/2026 00:00:01.0"],
        # and here only the day-first one
        ["30/04/2026 23:59:59.5", "01/05/2026 00:00:00", "01/05/2026 00:00:00.5",
         "01/05/2026 00:00:01"],
        ["02.05.2026 10:00:00", "02.05.2026 10:00:00.5", "02.05.2026 10:00:01",
         "02.05.2026 10:00:01.5"],
        ["2026-05-02 10:00:00,0", "2026-05-02 10:00:00:5", "2026-05-02 10:00:01:0",
         "2026-05-02 10:00:01:5"],
        ["11:59:59 AM", "11:59:59.5 AM", "12:00:00 PM", "12:00:00.5 PM"],
        ["23:59:59.0", "23:59:59.5", "00:00:00.0", "00:00:00.5"],
        ["9:59:59.0", "9:59:59.5", "10:00:00.0", "10:00:00.5"],
    ],
    ids=lambda stamps: stamps[0],
)  # fmt: skip
def test_seconds_come_out(stamps, read):
    stamps = [f'"{stamp}"' for stamp in stamps]  # one has a decimal comma
    np.testing.assert_allclose(read(log(stamps)).time_s, STEPS, atol=1e-6)


def test_date_and_time_in_columns_of_their_own(read):
    rows = ["2026-05-02,23:59:59.5", "2026-05-03,00:00:00.0", "2026-05-03,00:00:00.5"]
    raw = read(log(rows, "Date,Time,travel_fl_mm"))
    np.testing.assert_allclose(raw.time_s, STEPS[:3], atol=1e-6)


def test_a_preamble_with_a_twelve_hour_date_is_no_table(read):
    preamble = "Session,Sunday drive\nDate,5/2/2026\nTime,3:14:07 PM\nSample Rate,500\n\n"
    rows = "".join(f"{i / 500:.3f},{i}\n" for i in range(50))
    raw = read(preamble + "Time,travel_fl_mm\ns,mm\n" + rows)
    np.testing.assert_allclose(raw.time_s, np.arange(50) / 500)
    np.testing.assert_allclose(raw.channels["travel_fl"], np.arange(50) / 1000)


def test_rows_at_many_rates_with_blank_cells(read):
    rows = "".join(
        f"{i / 100},{i},{'' if i % 10 else i / 10}\n" for i in range(40)
    )  # travel at 100 Hz, satellite speed at 10 Hz
    raw = read("time_s,travel_fl_mm,speed_kph\n" + rows)
    known = np.flatnonzero(np.isfinite(raw.channels["speed"]))
    np.testing.assert_array_equal(known, [0, 10, 20, 30])
    np.testing.assert_allclose(raw.channels["speed"][known] * 3.6, [0, 1, 2, 3])
    assert np.isfinite(raw.channels["travel_fl"]).all()


def test_what_is_no_time_is_said(read):
    with pytest.raises(ClockError, match='"yesterday" is neither a number nor a date and time'):
        read(log(["yesterday"] * 4))


def test_a_channel_mapped_to_the_clocks_text_is_refused_in_one_line(read):
    logger = Logger(channels={"cabin": ChannelMapping(column="2", unit="g")})
    with pytest.raises(ClockError) as refused:
        read("Date,Time,A0\n5/2/2026,11:59:00.0 PM,0\n5/2/2026,11:59:00.5 PM,1\n", logger)
    assert str(refused.value).endswith(
        'drive.csv: column "Time" holds the clock\'s dates or times and'
        " cannot be a channel as well; map the channel to another column"
    )
