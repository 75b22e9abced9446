"""Files of one drive that a logger split are put together in order, and nothing is made up."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ridelog.car.description import Logger
from ridelog.errors import ClockError, FileError, LogError
from ridelog.ingest.join_parts import join_parts
from ridelog.ingest.read import read_log
from ridelog.runs.write_table import safe_cell, write_table

SAMPLES = Path(__file__).parents[2] / "sample_logs"
HEADER = "time_ms,travel_fl_mm\n"


def part(folder: Path, name: str, start: int, count: int = 50, header: str = HEADER) -> Path:
    rows = "".join(f"{start + 2 * i},{start + i}.25\n" for i in range(count))
    (folder / name).write_text(header + rows)
    return folder / name


def written(folder: Path, paths: list[Path]) -> tuple[Path, tuple[str, ...]]:
    joined = join_parts(paths)
    out = folder / "joined.csv"
    write_table(out, [row for row in (joined.header, joined.units) if row] + list(joined.rows),
                joined.delimiter)  # fmt: skip
    return out, joined.remarks


def test_parts_whose_clock_goes_on(tmp_path):
    """Named in the wrong order; 0 to 98 ms, 100 to 198 ms, then 700 ms without a row."""
    paths = [
        part(tmp_path, name, at) for name, at in (("c.csv", 900), ("a.csv", 0), ("b.csv", 100))
    ]
    out, remarks = written(tmp_path, paths)
    raw = read_log(out, Logger())
    start = np.repeat([0, 100, 900], 50)
    inside = np.tile(np.arange(50), 3)
    np.testing.assert_allclose(raw.time_s, (start + 2 * inside) / 1000, atol=1e-12)
    np.testing.assert_allclose(raw.channels["travel_fl"], (start + inside + 0.25) / 1000)
    assert remarks == (
        "put in the order of their clocks: a.csv, b.csv, c.csv",
        "b.csv goes on 2 after the end of a.csv",
        "c.csv goes on 702 after the end of b.csv",
    )


def test_a_clock_that_starts_anew_goes_on_after_a_gap_that_is_said(tmp_path):
    paths = [part(tmp_path, "b.csv", 0), part(tmp_path, "a.csv", 4)]
    out, remarks = written(tmp_path, paths)
    raw = read_log(out, Logger())
    # as named: b ends at 98 ms, 1000 steps of 2 ms are left out
    np.testing.assert_allclose(raw.time_s[[49, 50, 51]], [0.098, 2.098, 2.100])
    np.testing.assert_allclose(raw.channels["travel_fl"][50], 0.00425)
    assert remarks == (
        "a.csv: its clock starts anew; set to go on after a gap of 2000, the true one is not known",
    )


def test_dates_decimal_commas_units_and_torn_rows(tmp_path):
    header = "time;A0\n-;V\n"
    for name, second in (("b.csv", 10), ("a.csv", 5)):
        rows = "".join(f"2026-05-02T10:00:{second + i / 10:06.3f};{i},5\n" for i in range(30))
        (tmp_path / name).write_text(header + rows + "2026-05-02T10:0")
    joined = join_parts([tmp_path / "b.csv", tmp_path / "a.csv"])
    assert (joined.header, joined.units) == (("time", "A0"), ("-", "V"))
    assert len(joined.rows) == 60
    assert joined.rows[30] == ("2026-05-02T10:00:10.000", "0,5")
    assert joined.remarks[0] == "put in the order of their clocks: a.csv, b.csv"
    assert sum("looks cut off" in remark for remark in joined.remarks) == 2


def test_times_of_day_go_on_past_midnight_as_named(tmp_path):
    for name, stamp in (("a.csv", "23:59:5"), ("b.csv", "00:00:0")):
        rows = "".join(f"{stamp}{i}.5,{i}\n" for i in range(10))
        (tmp_path / name).write_text("time,travel_fl_mm\n" + rows)
    out, _ = written(tmp_path, [tmp_path / "a.csv", tmp_path / "b.csv"])
    np.testing.assert_allclose(read_log(out, Logger()).time_s, np.arange(20))
    (tmp_path / "c.csv").write_text("time,travel_fl_mm\n23:59:10,1\n23:59:11,2\n")
    with pytest.raises(ClockError, match=r"begins before a.csv ends, and its clock shows no date"):
        join_parts([tmp_path / "a.csv", tmp_path / "c.csv"])


def test_what_is_no_part_is_refused(tmp_path):
    first = part(tmp_path, "a.csv", 0)
    with pytest.raises(
        LogError, match=r'^b.csv: its columns are not those of a.csv \("body_fl_g"\)'
    ):
        join_parts([first, part(tmp_path, "b.csv", 100, header="time_ms,body_fl_g\n")])
    with pytest.raises(ClockError, match=r"^c.csv: its clock overlaps that of a.csv"):
        join_parts([first, part(tmp_path, "c.csv", 60)])
    with pytest.raises(LogError, match="name two or more parts"):
        join_parts([first])


def test_a_sample_drive_in_two_files_is_the_drive_itself(tmp_path):
    out, remarks = written(
        tmp_path, sorted((SAMPLES / "simulated_split").glob("*.gz"), reverse=True)
    )
    joined = read_log(out, Logger())
    whole = read_log(SAMPLES / "simulated_estate" / "estate_two_accel_sim.csv.gz", Logger())
    count = len(joined.time_s)
    assert count == 3000
    np.testing.assert_array_equal(joined.time_s, whole.time_s[:count])
    for name, values in joined.channels.items():
        np.testing.assert_array_equal(values, whole.channels[name][:count])
    assert remarks[0].startswith("put in the order of their clocks: part_1.csv.gz, part_2.csv.gz")


@pytest.mark.parametrize(
    ("cell", "safe"),
    [
        ("=HYPERLINK(1)", "'=HYPERLINK(1)"),
        ("@SUM(1)", "'@SUM(1)"),
        ("+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"),
        ("-2+3", "'-2+3"),
        ("-2.5", "-2.5"),
        ("+1,5", "+1,5"),
        ("-3e-5", "-3e-5"),
        ("A0", "A0"),
        ("", ""),
    ],
)
def test_cells_that_a_spreadsheet_would_run(cell, safe):
    assert safe_cell(cell) == safe


def test_nothing_is_overwritten(tmp_path):
    (tmp_path / "x.csv").write_text("mine")
    with pytest.raises(FileError, match="exists; nothing was written"):
        write_table(tmp_path / "x.csv", [["a"]], ",")
    assert (tmp_path / "x.csv").read_text() == "mine"
