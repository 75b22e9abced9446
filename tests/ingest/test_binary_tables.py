"""Parquet and MDF 4 logs, with files made here, and what is said where their library is missing."""

from __future__ import annotations

import sys
import warnings
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from pyarrow import parquet

from ridelog.car.description import ChannelMapping, Logger
from ridelog.errors import LogError
from ridelog.ingest.read import read_log

TIME_S = np.arange(200) / 500
TRAVEL_MM = 20 * np.sin(7 * TIME_S)


def parquet_log(path: Path, **columns) -> Path:
    parquet.write_table(pa.table(columns), path)
    return path


def test_a_parquet_log(tmp_path):
    body = pa.array([None, *np.full(199, 9.8)], pa.float32())
    path = parquet_log(
        tmp_path / "drive.parquet", time_s=TIME_S, travel_fl_mm=TRAVEL_MM, body_fl_mps2=body
    )
    raw = read_log(path, Logger())
    np.testing.assert_array_equal(raw.time_s, TIME_S)
    np.testing.assert_allclose(raw.channels["travel_fl"], TRAVEL_MM / 1000)
    assert np.isnan(raw.channels["body_fl"][0])
    np.testing.assert_allclose(raw.channels["body_fl"][1:], 9.8, rtol=1e-6)
    assert raw.source.rows_read == 200


def test_a_parquet_log_with_date_and_time(tmp_path):
    start = np.datetime64("2026-05-02T10:00:00")
    stamps = start + (1e6 * TIME_S).astype("timedelta64[us]")
    path = parquet_log(tmp_path / "drive.parquet", time=stamps, a0=TRAVEL_MM, note=["x"] * 200)
    mapping = ChannelMapping(column="a0", unit="mm")
    raw = read_log(path, Logger(channels={"travel_fl": mapping}))
    np.testing.assert_allclose(raw.time_s, TIME_S, atol=1e-9)
    with pytest.raises(LogError, match='column "note" holds text where numbers belong'):
        read_log(path, Logger(channels={"cabin": ChannelMapping(column="note", unit="g")}))


def test_a_cut_parquet_file_is_refused(tmp_path):
    path = parquet_log(tmp_path / "drive.parquet", time_s=TIME_S, travel_fl_mm=TRAVEL_MM)
    path.write_bytes(path.read_bytes()[:-20])
    with pytest.raises(LogError, match=r"^drive.parquet: the Parquet file is damaged \(.*again$"):
        read_log(path, Logger())


def mdf_log(path: Path) -> Path:
    """Travel at 500 Hz in one group, speed at 10 Hz in another."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from asammdf import MDF, Signal
    with MDF(version="4.10") as file:
        file.append(
            [
                Signal(TRAVEL_MM, TIME_S, name="pot 1", unit="mm"),
                Signal(np.full(200, 1.0), TIME_S, name="body_fl_g", unit="g"),
            ]
        )
        slow = np.arange(5) / 10
        file.append([Signal(36.0 * slow, slow, name="speed_kph", unit="km/h")])
        file.save(path)
    return path


@pytest.fixture(scope="module")
def measurement(tmp_path_factory) -> Path:
    return mdf_log(tmp_path_factory.mktemp("mdf") / "drive.mf4")


def test_an_mdf_log_with_two_rates(measurement):
    raw = read_log(measurement, Logger(channels={"travel_fl": ChannelMapping(column="pot 1")}))
    np.testing.assert_allclose(raw.time_s, TIME_S)
    np.testing.assert_allclose(raw.channels["travel_fl"], TRAVEL_MM / 1000)
    np.testing.assert_allclose(raw.channels["body_fl"], 9.80665)
    np.testing.assert_allclose(raw.channels["speed"], 10 * TIME_S, atol=1e-9)
    assert raw.units["travel_fl"] == "mm"


def test_what_would_swell_beyond_the_largest_log_is_refused(measurement, tmp_path, monkeypatch):
    from ridelog.ingest import measurement_file
    from ridelog.ingest import parquet as parquet_file

    path = parquet_log(tmp_path / "drive.parquet", time_s=TIME_S, travel_fl_mm=TRAVEL_MM)
    for module, file in ((measurement_file, measurement), (parquet_file, path)):
        monkeypatch.setattr(module, "LARGEST_UNPACKED_BYTES", 2000)
        with pytest.raises(LogError, match=r"unpacks to more than 0 MiB; cut the log"):
            read_log(file, Logger())


def test_a_cut_mdf_file_is_refused(measurement, tmp_path):
    path = tmp_path / "cut.mf4"
    path.write_bytes(measurement.read_bytes()[:400])
    with pytest.raises(LogError, match=r"^cut.mf4: the MDF file is damaged \("):
        read_log(path, Logger())


@pytest.mark.parametrize(
    ("library", "what", "extra"),
    [("pyarrow", "a Parquet file", "parquet"), ("asammdf", "an MDF file", "mdf")],
)
def test_a_missing_library_is_named_with_the_cure(
    library, what, extra, measurement, tmp_path, monkeypatch
):
    path = measurement
    if library == "pyarrow":
        path = parquet_log(tmp_path / "drive.parquet", time_s=TIME_S, travel_fl_mm=TRAVEL_MM)
    monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(LogError) as error:
        read_log(path, Logger())
    cure = f'install it: pip install "ridelog[{extra}]"'
    assert str(error.value) == f"{path.name}: {what} needs the library {library}; {cure}"
