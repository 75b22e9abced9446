"""ridelog join on the command line."""

from __future__ import annotations

import pytest

from ridelog.cli.main import main


def call(capsys, status: int, *words: str) -> str:
    with pytest.raises(SystemExit) as leaving:
        main(["join", *words])
    printed = capsys.readouterr()
    assert leaving.value.code == status
    return printed.out if status == 0 else printed.err


@pytest.fixture
def parts(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, start in (("a.csv", 0), ("b.csv", 200)):
        rows = "".join(f"{start + 2 * i},=1+1,{i}\n" for i in range(50))
        (tmp_path / name).write_text("time_ms,note,travel_fl_mm\n" + rows)
    return tmp_path


def test_two_parts(parts, capsys):
    printed = call(capsys, 0, "a.csv", "b.csv", "--out", "whole.csv")
    assert printed.splitlines() == [
        "100 rows of 2 files written to whole.csv",
        "- b.csv goes on 102 after the end of a.csv",
    ]
    lines = (parts / "whole.csv").read_text().splitlines()
    assert lines[:2] == ["time_ms,note,travel_fl_mm", "0,'=1+1,0"]
    assert len(lines) == 101


def test_no_log_is_overwritten(parts, capsys):
    before = (parts / "a.csv").read_bytes()
    line = call(capsys, 2, "a.csv", "b.csv", "--out", "a.csv")
    assert line == "a.csv: exists; nothing was written, choose another name\n"
    assert (parts / "a.csv").read_bytes() == before


def test_a_missing_part(parts, capsys):
    assert call(capsys, 2, "a.csv", "c.csv", "--out", "x.csv").startswith("c.csv: there is no")
