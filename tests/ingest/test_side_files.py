"""Channels that live in files beside the log, each with its own clock."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pytest

from ridelog.car.description import ChannelMapping, Logger
from ridelog.errors import ClockError, LogError
from ridelog.ingest.read import read_log


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A log of ten seconds at 10 Hz, clock from 100 s on."""
    rows = "".join(f"{100 + i / 10:.1f},1.0\n" for i in range(100))
    (tmp_path / "drive.csv").write_text("time_s,cabin_g\n" + rows)
    return tmp_path


def speed(folder: Path, text: str, *, name: str = "gps.csv", **mapping) -> np.ndarray:
    (folder / name).write_text(text)
    mapping = {"file": name, "column": "v", "unit": "m/s"} | mapping
    logger = Logger(channels={"speed": ChannelMapping(**mapping)})
    return read_log(folder / "drive.csv", logger).channels["speed"]


STEADY = "time_s,v\n" + "".join(f"{second},{second - 95}\n" for second in range(95, 120))


def test_values_are_joined_by_straight_lines_at_the_logs_instants(folder):
    np.testing.assert_allclose(speed(folder, STEADY), 5 + np.arange(100) / 10, atol=1e-9)


def test_nothing_is_carried_on_past_the_ends(folder):
    text = "time_s,v\n103,1\n104,2\n105,3\n"
    values = speed(folder, text)
    inside = (np.arange(100) >= 30) & (np.arange(100) <= 50)
    np.testing.assert_array_equal(np.isfinite(values), inside)


def test_a_wide_hole_is_not_bridged_a_narrow_one_is(folder):
    stamps = [99, 100, 100.5, 101, 101.5, 102, 104, 104.5, 105, 108.5, 109, 109.5, 110]
    values = speed(folder, "time_s,v\n" + "".join(f"{stamp},7\n" for stamp in stamps))
    # Usual step 0.5 s: the hole of 2 s is bridged, that of 3.5 s (over five steps) is not.
    missing = np.flatnonzero(np.isnan(values))
    np.testing.assert_array_equal(missing, np.arange(51, 85))


def test_no_fix_is_no_speed(folder):
    text = "time_s,v\n99,-1\n100,-1\n101,-1\n102,4\n103,6\n104,8\n120,8\n"
    values = speed(folder, text, valid_min=0.0)
    assert np.isnan(values[:20]).all()
    np.testing.assert_allclose(values[[20, 25, 30]], [4, 5, 6])


def test_valid_from_counts_from_the_files_own_start(folder):
    values = speed(folder, STEADY, valid_from_s=8.0)
    assert np.isnan(values[:30]).all()
    np.testing.assert_allclose(values[30], 8.0)


def test_a_late_file_is_moved_back(folder):
    values = speed(folder, STEADY, delay_s=0.5)
    np.testing.assert_allclose(values, 5.5 + np.arange(100) / 10, atol=1e-9)


def test_doubled_and_unsorted_stamps_do_no_harm(folder):
    text = "time_s,v\n99,4\n99,4\n101,6\n100,5\n102,7\n103,8\n111,16\n"
    values = speed(folder, text)
    np.testing.assert_allclose(values[:31], 5 + np.arange(31) / 10 - 0.0, atol=1e-9)


def test_its_clock_may_have_another_name_and_unit(folder):
    text = "tick,v\n" + "".join(f"{1000 * second},{second - 95}\n" for second in range(95, 120))
    values = speed(folder, text, time_column="tick", time_unit="ms")
    np.testing.assert_allclose(values, 5 + np.arange(100) / 10, atol=1e-9)


def test_the_files_name_may_follow_the_logs(folder):
    values = speed(folder, STEADY, name="drive_gps.csv", file="{stem}_gps.csv")
    np.testing.assert_allclose(values[0], 5.0)


def test_the_name_follows_a_packed_log_too(folder):
    packed = folder / "drive.csv.gz"
    packed.write_bytes(gzip.compress((folder / "drive.csv").read_bytes()))
    (folder / "drive_gps.csv").write_text(STEADY)
    mapping = ChannelMapping(file="{stem}_gps.csv", column="v", unit="m/s")
    raw = read_log(packed, Logger(channels={"speed": mapping}))
    np.testing.assert_allclose(raw.channels["speed"][0], 5.0)
    assert raw.columns["speed"] == "drive_gps.csv: v"


def test_dates_and_times_are_joined_across_files(tmp_path):
    rows = "".join(f"2026-05-02T10:00:{i:02d},1\n" for i in range(10))
    (tmp_path / "drive.csv").write_text("time,cabin_g\n" + rows)
    gps = "".join(f"2026-05-02T10:00:{i:02d}.500,{i}\n" for i in range(10))
    (tmp_path / "gps.csv").write_text("time,v\n" + gps)
    mapping = ChannelMapping(file="gps.csv", column="v", unit="m/s")
    raw = read_log(tmp_path / "drive.csv", Logger(channels={"speed": mapping}))
    np.testing.assert_allclose(raw.channels["speed"][1:], np.arange(9) + 0.5)


def test_a_date_and_a_running_count_cannot_be_joined(folder):
    with pytest.raises(ClockError) as error:
        speed(folder, "time,v\n2026-05-02T10:00:00,1\n2026-05-02T10:00:01,1\n")
    assert str(error.value) == (
        "gps.csv: its clock and the log's cannot be joined: one has dates and times, the other a"
        " running count; name matching time columns in the car file"
    )


def test_a_missing_file_is_named(folder):
    mapping = ChannelMapping(file="gps.csv", column="v", unit="m/s")
    with pytest.raises(LogError) as error:
        read_log(folder / "drive.csv", Logger(channels={"speed": mapping}))
    assert str(error.value) == (
        "gps.csv: no such file beside drive.csv (logger.channels.speed in the car file)"
    )


def test_a_missing_column_is_named_with_the_nearest(folder):
    with pytest.raises(LogError) as error:
        speed(folder, STEADY, column="vel")
    assert str(error.value) == (
        'gps.csv: no column "vel" (logger.channels.speed in the car file); nearest are "v"'
    )


def test_the_logs_own_column_wins_over_the_file_beside_it(folder):
    (folder / "drive.csv").write_text("time_s,cabin_g,speed_mps\n0,1,3\n0.1,1,3\n")
    np.testing.assert_array_equal(speed(folder, STEADY), [3, 3])


def test_a_log_may_hold_nothing_of_ours_but_the_clock(tmp_path):
    rows = "".join(f"2026-05-02T10:00:{i:02d},{i}\n" for i in range(10))
    (tmp_path / "drive.csv").write_text("time,lap\n" + rows)
    (tmp_path / "speed.csv").write_text(
        "time,v\n2026-05-02T10:00:00,3\n2026-05-02T10:00:05,3\n2026-05-02T10:00:10,3\n"
    )
    mapping = ChannelMapping(file="speed.csv", column="v", unit="m/s")
    raw = read_log(tmp_path / "drive.csv", Logger(channels={"speed": mapping}))
    np.testing.assert_array_equal(raw.channels["speed"], np.full(10, 3.0))
