"""A logger that loses samples is believed less about time, and frequencies say so."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.car.load import load_car
from ridelog.estimate.drive import LOSSY_CLOCK_RATE, _with_clock_doubt
from ridelog.recording import Problem

CAR = load_car(Path(__file__).parents[2] / "sample_logs" / "simulated_estate" / "car.toml")


@pytest.mark.parametrize("code", ["gap", "clock"])
def test_lost_samples_cost_trust_in_the_clock(code: str) -> None:
    car, notes = _with_clock_doubt(CAR, (Problem(code=code, text="samples are missing"),))
    assert car.tolerances.clock_rate == LOSSY_CLOCK_RATE
    assert notes == (
        "the logger lost samples or its clock stumbled, so its rate is trusted to 0.3 % only, "
        "and so is every frequency",
    )


@pytest.mark.parametrize("code", ["flat", "sign", "late"])
def test_other_faults_leave_the_clock_alone(code: str) -> None:
    car, notes = _with_clock_doubt(CAR, (Problem(code=code, text="a sensor's fault"),))
    assert car is CAR
    assert notes == ()


def test_a_worse_tolerance_of_the_owner_stands() -> None:
    poor = replace(CAR, tolerances=replace(CAR.tolerances, clock_rate=0.01))
    car, _ = _with_clock_doubt(poor, (Problem(code="gap", text="samples are missing"),))
    assert car.tolerances.clock_rate == 0.01
