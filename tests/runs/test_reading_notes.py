"""What was lost or taken for granted while reading reaches the notes of every result."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ridelog.car.description import Axle, Car
from ridelog.runs.analyze import analyze_log
from ridelog.runs.check import check_log


@pytest.fixture
def car() -> Car:
    axle = Axle(
        layout="independent",
        track_m=1.5,
        sprung_mass_kg=700.0,
        unsprung_mass_kg=90.0,
        spring_rate_n_per_m=40_000.0,
        motion_ratio=0.8,
    )
    return Car(name="test", wheelbase_m=2.7, front=axle, rear=axle)


@pytest.fixture
def torn(tmp_path: Path) -> Path:
    """Eight seconds at 100 Hz without a unit of time, the last row cut off."""
    rng = np.random.default_rng(3)
    body = 9.81 + rng.standard_normal(800)
    rows = "".join(f"{i / 100:.2f},{value:.4f}\n" for i, value in enumerate(body))
    path = tmp_path / "torn.csv"
    path.write_text("t,body_fl_mps2\n" + rows + "8.0")
    return path


@pytest.mark.parametrize("tell", [check_log, analyze_log])
def test_what_reading_left_out_is_said(torn, car, tell):
    notes = tell(torn, car).notes
    assert notes[:2] == (
        "1 of 801 rows not read: line 802 left out: the last line may be cut off",
        'time column "t" names no unit; its steps of 0.01 are taken as seconds',
    )


def test_a_whole_log_has_no_such_notes(torn, car):
    text = torn.read_text().removesuffix("8.0").replace("t,", "time_s,", 1)
    torn.write_text(text)
    assert not any("not read" in note or "taken as" in note for note in check_log(torn, car).notes)
