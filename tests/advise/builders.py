"""Cars and runs for the advice tests, made up: figures as an analysis would report them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from ridelog.car.description import Axle, Car
from ridelog.estimate.result import (
    AnalysisResult,
    AxleResult,
    Contact,
    CornerResult,
    Estimate,
    LogInfo,
    StopContacts,
    TravelUse,
    WholeCarResult,
)
from ridelog.recording import AXLE_OF_CORNER, CORNERS
from ridelog.runs.collect import Run
from ridelog.runs.setup import RunSetup

LBF_PER_IN = 175.126835246476  # N/m, NIST SP 811


def estimate(value: float, relative_half_width: float = 0.04) -> Estimate:
    """A value with a symmetric relative interval."""
    return Estimate(
        value=value, low=value * (1 - relative_half_width), high=value * (1 + relative_half_width)
    )


def axle(**changes: object) -> Axle:
    """A saloon's axle; wheel rate 28.1 kN/m, body frequency 1.243 Hz on its tyres."""
    values: dict[str, object] = {
        "layout": "independent",
        "track_m": 1.5,
        "sprung_mass_kg": 800.0,
        "unsprung_mass_kg": 90.0,
        "spring_rate_n_per_m": 325 * LBF_PER_IN,
        "motion_ratio": 0.7,
        "tyre_rate_n_per_m": 220e3,
        "bump_gap_m": 0.045,
        "droop_gap_m": 0.05,
        "clicks": 18,
        "target_body_frequency_hz": 1.243,
        "target_damping_ratio": 0.35,
    }
    return Axle(**(values | changes))  # type: ignore[arg-type]


def car(front: Axle | None = None, rear: Axle | None = None) -> Car:
    """A made-up car."""
    return Car(name="made-up saloon", wheelbase_m=2.7, front=front or axle(), rear=rear or axle())


def axle_result(
    damping_ratio: Estimate | float | None,
    *,
    body_frequency_hz: float | None = 1.243,
    relative_half_width: float = 0.04,
    **changes: object,
) -> AxleResult:
    """What an analysis would say of one axle."""
    frequency = body_frequency_hz
    values: dict[str, object] = {
        "method": "force balance",
        "damping_ratio": estimate(damping_ratio, relative_half_width)
        if isinstance(damping_ratio, float)
        else damping_ratio,
        "body_frequency_hz": None if frequency is None else estimate(frequency, 0.005),
        "spring_frequency_hz": None if frequency is None else estimate(frequency * 1.062, 0.005),
    }
    return AxleResult(**(values | changes))  # type: ignore[arg-type]


def corner_result(
    damping_ratio: float | None, contacts: int = 0, depth_mm: float = 3.0, gap_mm: float = 45.0
) -> CornerResult:
    """What an analysis would say of one corner."""
    hits = tuple(
        Contact(start_s=10.0 * i, end_s=10.0 * i + 0.05, depth_mm=depth_mm) for i in range(contacts)
    )
    return CornerResult(
        damping_ratio=None if damping_ratio is None else estimate(damping_ratio, 0.05),
        travel_mm=TravelUse(min=-30, max=35, p01=-20, p99=22, rms=8),
        bump_stop=StopContacts(gap_mm=estimate(gap_mm, 0.05), contacts=hits),
        top_out=StopContacts(),
    )


def run(
    file: str,
    clicks: Mapping[str, int] | int | None,
    front: AxleResult,
    rear: AxleResult | None = None,
    *,
    corners: Mapping[str, CornerResult] | None = None,
    duration_s: float = 180.0,
    **setup: object,
) -> Run:
    """One run; `clicks` for all corners, by corner, or None for no setup file."""
    if isinstance(clicks, int):
        clicks = dict.fromkeys(CORNERS, clicks)
    results = {"front": front, "rear": rear or front}
    default = {
        c: corner_result(d.value if (d := results[AXLE_OF_CORNER[c]].damping_ratio) else None)
        for c in CORNERS
    }
    return Run(
        file=file,
        path=Path(file),
        setup=None if clicks is None else RunSetup(clicks=clicks, **setup),  # type: ignore[arg-type]
        analysis=AnalysisResult(
            log=LogInfo(file=file, kind="drive", duration_s=duration_s, sample_rate_hz=500.0),
            axles=results,
            corners=default | dict(corners or {}),
            whole_car=WholeCarResult(),
        ),
    )
