"""Tyre rate left out of the car file: found again from the wheels' hop of a simulated drive."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ridelog.car.load import load_car
from ridelog.estimate.balance.tyre_rate import TyreRateSettings, _wheel_response
from ridelog.estimate.result import AnalysisResult
from ridelog.runs.analyze import analyze_log

ESTATE = Path(__file__).parents[2] / "sample_logs" / "simulated_estate"


@pytest.fixture(scope="module")
def without_tyre_rate() -> AnalysisResult:
    car = load_car(ESTATE / "car.toml")
    bare = replace(
        car,
        front=replace(car.front, tyre_rate_n_per_m=None),
        rear=replace(car.rear, tyre_rate_n_per_m=None),
    )
    return analyze_log(ESTATE / "estate_drive_sim.csv.gz", bare)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["front", "rear"])
def test_interval_holds_the_tyre_rate_that_was_left_out(
    without_tyre_rate: AnalysisResult, name: str
) -> None:
    stated = load_car(ESTATE / "car.toml").axle(name).tyre_rate_n_per_m
    assert stated is not None
    found = without_tyre_rate.axles[name].tyre_rate_n_per_m
    assert found is not None
    assert found.low < stated < found.high
    # Narrower than what is known of any car tyre beforehand (22 %, one deviation).
    assert np.log(found.high / found.low) / (2 * 1.96) < 0.17


@pytest.mark.slow
def test_body_frequency_carries_the_doubt_of_an_unstated_tyre(
    without_tyre_rate: AnalysisResult,
) -> None:
    stated = analyze_log(ESTATE / "estate_drive_sim.csv.gz", load_car(ESTATE / "car.toml"))
    wide = without_tyre_rate.axles["front"].body_frequency_hz
    narrow = stated.axles["front"].body_frequency_hz
    assert wide is not None
    assert narrow is not None
    assert wide.high - wide.low > 1.5 * (narrow.high - narrow.low)
    assert stated.axles["front"].tyre_rate_n_per_m is None


def test_wheel_response_at_the_invariant_point_of_the_travel() -> None:
    """At w = sqrt(kt / (ms + mu)) suspension travel over road is 1 + mu / ms for any spring.

    Hedrick & Butsuen's invariant, from memory; 300 and 60 kg, 190 kN/m: 1.2 at 3.6563 Hz. There
    the wheel must move by the road plus what the tyre gives, which fixes its response for a
    suspension without spring and damper: the wheel alone on its tyre.
    """
    omega = np.array([2 * np.pi * 3.6563])
    free = _wheel_response(omega, np.array([190e3]), 300.0, 60.0, 0.0, 0.0)
    assert np.sqrt(free[0, 0]) == pytest.approx(190e3 / (190e3 - 60.0 * omega[0] ** 2), rel=1e-12)


def test_prior_alone_spans_the_tyres_of_cars() -> None:
    """150 to 300 N/mm (common practice, no source) lie within two deviations of the prior."""
    settings = TyreRateSettings()
    for rate in (150e3, 300e3):
        assert abs(np.log(rate / settings.usual_n_per_m)) < 2 * settings.usual_deviation
