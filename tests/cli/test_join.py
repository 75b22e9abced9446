"""ridelog join on the command line."""

from __future__ import annotations

import re

import numpy as np
import pytest

from ridelog.car.description import Logger
from ridelog.cli.main import main
from ridelog.ingest.read import read_log


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


def test_two_loggers(tmp_path, monkeypatch, capsys):
    """A travel logger and a phone, 5.25 s apart by their clocks, on one made-up ride."""
    monkeypatch.chdir(tmp_path)
    random = np.random.default_rng(3)
    hz, phase = random.uniform(0.7, 12, 60), random.uniform(0, 6.28, 60)

    def motion(time_s):
        return np.sin(2 * np.pi * np.outer(time_s, hz) + phase).sum(axis=1)

    ours, theirs = np.arange(8000) / 200, 4 + np.arange(3000) / 100
    body = 9.8 + 0.2 * motion(ours) + 0.3 * random.standard_normal(8000)
    seat = 1.0 + 0.02 * motion(theirs)
    rows = "".join(f"{t:.4f},{b:.4f}\n" for t, b in zip(ours, body, strict=True))
    (tmp_path / "a.csv").write_text("time_s,body_fl_mps2\n" + rows)
    rows = "".join(f"{1000 * (t - 5.25):.0f},{s:.5f}\n" for t, s in zip(theirs, seat, strict=True))
    (tmp_path / "b.csv").write_text("time_ms,seat_g\n" + rows)
    words = ("a.csv", "b.csv", "--same-motion", "body_fl_mps2", "seat_g", "--out", "x.csv")
    printed = call(capsys, 0, *words)
    offset = float(re.search(r"is set ([+-]\d+\.\d+) s", printed)[1])
    assert offset == pytest.approx(5.25, abs=0.001)
    raw = read_log(tmp_path / "x.csv", Logger())
    np.testing.assert_allclose(raw.time_s, ours)
    seen = raw.channels["seat"] / 9.80665
    inside = np.isfinite(seen)
    assert inside.sum() == pytest.approx(6000, abs=4)
    np.testing.assert_allclose(seen[inside], 1 + 0.02 * motion(ours[inside]), atol=0.03)
    assert "takes two logs" in call(capsys, 2, "a.csv", *words[2:])


def test_two_loggers_by_a_shared_knock(tmp_path, monkeypatch, capsys):
    """Three knocks on a standing car, felt by a card and a phone 5.25 s apart by their clocks."""
    monkeypatch.chdir(tmp_path)
    ours, theirs = np.arange(8000) / 200, 4 + np.arange(3000) / 100

    def knocks(time_s):
        since = time_s[:, None] - np.array([12.0, 15.3, 17.1])
        ring = np.sin(2 * np.pi * 18 * since) * np.exp(-since.clip(0) / 0.05)
        return np.where(since > 0, ring, 0).sum(axis=1)

    rows = "".join(f"{t:.4f},{9.8 + 4 * k:.4f}\n" for t, k in zip(ours, knocks(ours), strict=True))
    (tmp_path / "a.csv").write_text("time_s,body_fl_mps2\n" + rows)
    felt = zip(theirs, knocks(theirs), strict=True)
    rows = "".join(f"{1000 * (t - 5.25):.0f},{1 + 0.3 * k:.5f}\n" for t, k in felt)
    (tmp_path / "b.csv").write_text("time_ms,seat_g\n" + rows)
    words = ("a.csv", "b.csv", "--same-bump", "body_fl_mps2", "seat_g", "--out", "x.csv")
    printed = call(capsys, 0, *words)
    assert "by 3 common bumps" in printed
    assert "tell no drift" in printed
    offset, half_ms = re.search(r"is set ([+-]\d+\.\d+) s \(\+-(\d+\.\d) ms\)", printed).groups()
    assert float(offset) == pytest.approx(5.25, abs=float(half_ms) / 1000)
    assert float(half_ms) < 15
    both = (*words[:5], "--same-motion", "body_fl_mps2", "seat_g", "--out", "y.csv")
    assert "exclude each other" in call(capsys, 2, *both)
