"""No text file that is written holds a cell that a spreadsheet would run as a formula.

The marks are those of OWASP's community page on CSV injection, from memory.
"""

from __future__ import annotations

import csv

import numpy as np
import pytest
from click.testing import CliRunner

from ridelog.cli.main import commands
from ridelog.runs.write_table import write_columns, write_table

FORMULAS = [
    "=1+2",
    "+cmd|' /C calc'!A0",
    "-2+3",
    "@SUM(1)",
    "\t=1",
    "\r=1",
    "\n=1",
    "\uff1d1+2",
]
SAFE = [f"'{cell}".replace("\r", "\n") for cell in FORMULAS]


def cells(path) -> list[str]:
    with path.open(encoding="utf-8", newline="") as file:
        return [cell for row in csv.reader(file) for cell in row]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_tables(tmp_path, delimiter):
    write_table(tmp_path / "out.csv", [FORMULAS, ["-1.5", "+2,5", *FORMULAS[2:]]], delimiter)
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as file:
        header, row = csv.reader(file, delimiter=delimiter)
    assert header == SAFE
    assert row == ["-1.5", "+2,5", *header[2:]]


def test_headers_of_columns(tmp_path):
    columns = {"time_s": np.arange(3.0)} | {name: np.full(3, -1.5) for name in FORMULAS}
    write_columns(tmp_path / "out.csv", columns)
    found = cells(tmp_path / "out.csv")
    assert found[: 1 + len(FORMULAS)] == ["time_s", *SAFE]
    assert set(found[1 + len(FORMULAS) :]) == {"0.000000", "1.000000", "2.000000", "-1.5"}


def test_the_joined_drive(tmp_path):
    for number in range(2):
        rows = "".join(f"{number + i / 100:.2f},{i},=HYPERLINK(A{i})\n" for i in range(40))
        (tmp_path / f"{number}.csv").write_text("time_s,travel_fl_mm,@note\n" + rows)
    out = tmp_path / "out.csv"
    parts = [str(tmp_path / "0.csv"), str(tmp_path / "1.csv")]
    ended = CliRunner().invoke(commands, ["join", *parts, "--out", str(out)])
    assert ended.exit_code == 0, ended.output
    found = cells(out)
    assert not [cell for cell in found if cell.startswith(("=", "@"))]
    assert "'@note" in found
    assert "'=HYPERLINK(A7)" in found
