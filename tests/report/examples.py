"""Invented results to report on: a made-up car, and logs that tell much, little and nothing."""

from __future__ import annotations

import numpy as np

from ridelog.advise.result import Advice, AxleAdvice, Change, KnobLaw, RunSummary
from ridelog.car.description import Axle, Car
from ridelog.estimate.curves import (
    Curves,
    DecayCurve,
    ForceCurve,
    SpectrumCurve,
    SpeedCurve,
    StripCurve,
    TravelCurve,
)
from ridelog.estimate.result import (
    AnalysisResult,
    AxleResult,
    ComfortResult,
    Contact,
    CornerResult,
    Estimate,
    ForcePoint,
    LogInfo,
    RoadResult,
    StopContacts,
    TravelUse,
    WholeCarResult,
)
from ridelog.recording import CORNERS, Gap, Problem
from ridelog.runs.abilities import Ability, CheckResult


def car(*, name: str = "Saturday wagon", clicks_from: str = "soft") -> Car:
    front = Axle(
        layout="independent",
        track_m=1.52,
        sprung_mass_kg=780,
        unsprung_mass_kg=86,
        spring_rate_n_per_m=78800.0,
        motion_ratio=0.61,
        tyre_rate_n_per_m=230000.0,
        bump_gap_m=0.042,
        droop_gap_m=0.055,
        clicks=18,
        clicks_from="stiff" if clicks_from == "stiff" else "soft",
        target_body_frequency_hz=1.30,
        target_damping_ratio=0.35,
    )
    rear = Axle(
        layout="solid",
        track_m=1.50,
        damper_spacing_m=1.05,
        sprung_mass_kg=560,
        unsprung_mass_kg=150,
        spring_rate_n_per_m=34000.0,
        motion_ratio=0.78,
        clicks=18,
        target_body_frequency_hz=1.42,
        target_damping_ratio=0.35,
    )
    return Car(name=name, wheelbase_m=2.794, front=front, rear=rear)


def between(value: float, half_width: float) -> Estimate:
    return Estimate(value=value, low=value - half_width, high=value + half_width)


def damper_force_n(speed_m_per_s: np.ndarray, strength: float) -> np.ndarray:
    bump = 1500 * speed_m_per_s / (1 + np.abs(speed_m_per_s) / 0.25)
    return strength * np.where(speed_m_per_s > 0, bump, 2.0 * bump)


def curves() -> Curves:
    frequency_hz = np.linspace(0.4, 25, 220)
    noise = np.exp(np.random.default_rng(4).normal(0, 0.35, frequency_hz.size))
    speed_m_per_s = np.linspace(-0.3, 0.3, 49)
    spectra, forces, travels, speeds = [], [], [], []
    for axle, peak_hz in (("front", 1.3), ("rear", 1.5)):
        ratio = frequency_hz / peak_hz
        fitted = (1 + ratio**2) / ((1 - ratio**2) ** 2 + ratio**2) * 0.1
        spectra.append(
            SpectrumCurve(
                label=f"{axle} body acceleration",
                place=axle,
                unit="m/s2",
                frequency_hz=frequency_hz,
                measured=fitted * noise,
                fitted=fitted,
            )
        )
    for index, corner in enumerate(CORNERS):
        force = damper_force_n(speed_m_per_s, 1 - 0.12 * index)
        band = 12 + 160 * speed_m_per_s**2
        forces.append(
            ForceCurve(
                corner=corner,
                speed_m_per_s=speed_m_per_s,
                force_n=force,
                low_n=force - band,
                high_n=force + band,
            )
        )
        edges_mm = np.linspace(-60, 60, 61)
        middles = (edges_mm[1:] + edges_mm[:-1]) / 2
        share = np.exp(-0.5 * (middles / (11 + 2 * index)) ** 2)
        gaps = (42.0, 55.0) if corner[0] == "f" else (None, None)
        travels.append(
            TravelCurve(
                corner=corner,
                bin_edges_mm=edges_mm,
                share=share / share.sum(),
                bump_gap_mm=gaps[0],
                droop_gap_mm=gaps[1],
            )
        )
        edges = np.linspace(-0.4, 0.4, 81)
        share = np.exp(-np.abs((edges[1:] + edges[:-1]) / 2) / (0.06 + 0.01 * index))
        speeds.append(SpeedCurve(corner=corner, bin_edges_m_per_s=edges, share=share / share.sum()))
    return Curves(
        spectra=tuple(spectra), forces=tuple(forces), travels=tuple(travels), speeds=tuple(speeds)
    )


def front_axle() -> AxleResult:
    return AxleResult(
        method="force balance of travel and body acceleration",
        body_frequency_hz=between(1.312, 0.006),
        spring_frequency_hz=between(1.383, 0.007),
        damping_ratio=Estimate(
            value=0.4083,
            low=0.3961,
            high=0.4205,
            random_half_width=0.0051,
            systematic_half_width=0.0108,
            largest_contributor="motion ratio",
        ),
        damping_ratio_bump=between(0.291, 0.014),
        damping_ratio_rebound=between(0.526, 0.013),
        decay_damping_ratio=between(0.337, 0.011),
        wheel_hop_hz=between(12.31, 0.22),
        wheel_rate_n_per_m=between(29440.0, 260.0),
        friction_n=between(38.2, 2.4),
        catalogue_spring_error=between(0.0041, 0.0090),
    )


def rear_axle() -> AxleResult:
    return AxleResult(
        method="force balance of travel and body acceleration",
        body_frequency_hz=between(1.498, 0.008),
        spring_frequency_hz=between(1.561, 0.009),
        damping_ratio=between(0.271, 0.009),
        damping_ratio_bump=between(0.180, 0.011),
        damping_ratio_rebound=between(0.362, 0.010),
        decay_damping_ratio=between(0.235, 0.009),
        wheel_hop_hz=None,
        wheel_rate_n_per_m=between(26950.0, 240.0),
        friction_n=between(61.0, 3.1),
    )


def corner(index: int, *, contacts: int = 0) -> CornerResult:
    points = tuple(
        ForcePoint(
            speed_mps=speed,
            force_n=between(
                float(damper_force_n(np.array([speed]), 1 - 0.12 * index)[0]), 6 + 40 * abs(speed)
            ),
        )
        for speed in (-0.2, -0.1, -0.05, -0.025, 0.025, 0.05, 0.1, 0.2)
    )
    hits = tuple(
        Contact(start_s=12.1 + 7 * i, end_s=12.14 + 7 * i, depth_mm=1.2 + 2.4 * i)
        for i in range(contacts)
    )
    return CornerResult(
        damping_ratio=between(0.40 - 0.04 * index, 0.012),
        damper_force=points,
        travel_mm=TravelUse(min=-38.4, max=43.9, p01=-27.0, p99=31.5, rms=11.2),
        bump_stop=StopContacts(gap_mm=between(41.6, 0.7), contacts=hits),
        top_out=StopContacts(gap_mm=None, contacts=()),
    )


def full_result(*, file: str = "run-2.csv") -> AnalysisResult:
    return AnalysisResult(
        log=LogInfo(
            file=file,
            kind="drive",
            duration_s=62.04,
            sample_rate_hz=500.0,
            gaps=(Gap(start_s=14.2, end_s=14.5),),
            channels=("travel_fl", "travel_fr", "body_fl", "body_fr", "speed"),
        ),
        axles={"front": front_axle(), "rear": rear_axle()},
        corners={
            name: corner(index, contacts=3 if name == "fl" else 0)
            for index, name in enumerate(CORNERS)
        },
        whole_car=WholeCarResult(
            bounce_frequency_hz=between(1.39, 0.02), bounce_damping_ratio=between(0.34, 0.02)
        ),
        comfort=ComfortResult(
            place="cabin",
            weighted_rms_mps2=0.5123456789,
            vdv_mps175=2.31,
            mtvv_mps2=1.04,
            crest_factor=7.3,
            reaction="a little to fairly uncomfortable",
        ),
        road=RoadResult(gd_n0_m3=between(48e-6, 11e-6), iso8608_class="B"),
        problems=(
            Problem(
                code="late",
                channel="travel_fl",
                text="lags the other sensors by 9.2 ms",
                mended=True,
            ),
            Problem(
                code="swapped",
                channels=("body_fl", "body_rl"),
                text="the two are exchanged",
                mended=True,
            ),
            Problem(code="flat", channel="hub_rr", text="does not move after 31.0 s"),
        ),
        notes=("wheel hop of the rear axle: needs a moving hub_rr; check its plug.",),
        curves=curves(),
    )


def body_only_result() -> AnalysisResult:
    """One accelerometer on the floor: the whole car's bounce and comfort, no axle."""
    time_s = np.arange(0, 2.5, 0.01)
    decay = 3 * np.exp(-0.3 * 8 * time_s) * np.cos(8 * time_s)
    return AnalysisResult(
        log=LogInfo(file="phone.csv", kind="bounce", duration_s=31.0, sample_rate_hz=100.0),
        axles={"front": AxleResult(method="none"), "rear": AxleResult(method="none")},
        corners={},
        whole_car=WholeCarResult(
            bounce_frequency_hz=between(1.37, 0.05), bounce_damping_ratio=between(0.29, 0.04)
        ),
        notes=("axles: one accelerometer cannot tell front from rear; put one over each axle.",),
        curves=Curves(
            decays=(
                DecayCurve(
                    place="cabin",
                    time_s=time_s,
                    measured_m_per_s2=decay + np.random.default_rng(1).normal(0, 0.1, time_s.size),
                    fitted_m_per_s2=decay,
                ),
            )
        ),
    )


def empty_result() -> AnalysisResult:
    return AnalysisResult(
        log=LogInfo(file="short.csv", kind="drive", duration_s=2.0, sample_rate_hz=50.0),
        axles={},
        corners={},
        whole_car=WholeCarResult(),
        notes=("too short: 2 s; drive for at least 20 s.",),
    )


def knob_law(low_ratio: float, high_ratio: float) -> KnobLaw:
    clicks = tuple(range(19))
    middle = [low_ratio * (high_ratio / low_ratio) ** (k / 18) for k in clicks]
    return KnobLaw(
        clicks=clicks,
        damping_ratio=tuple(middle),
        low=tuple(m * (0.97 - 0.012 * abs(k - 6)) for k, m in zip(clicks, middle, strict=True)),
        high=tuple(m * (1.03 + 0.016 * abs(k - 6)) for k, m in zip(clicks, middle, strict=True)),
    )


def runs() -> tuple[RunSummary, ...]:
    return tuple(
        RunSummary(
            file=f"run-{i + 1}.csv",
            clicks={"fl": front, "fr": front, "rl": rear, "rr": rear},
            damping_ratio={"front": between(f, 0.012), "rear": between(r, 0.010)},
            body_frequency_hz={"front": between(1.31, 0.006), "rear": between(1.50, 0.008)},
            date=f"2026-05-0{i + 1}",
        )
        for i, (front, rear, f, r) in enumerate(((12, 4, 0.447, 0.243), (6, 8, 0.31, 0.302)))
    )


def advice(*, state: str = "turn") -> Advice:
    done = state == "done"
    return Advice(
        runs=runs(),
        axles={
            "front": AxleAdvice(
                clicks=Change(now=6, next=6 if done else 9),
                predicted_damping_ratio=between(0.351, 0.019),
                spring_rate_n_per_m=Change(now=78800.0, next=78800.0),
                predicted_body_frequency_hz=between(1.312, 0.006),
                clicks_with_next_spring=None,
                perch_turns=None,
                done=done,
                state=state,
                reasons=(
                    "run-2.csv measured 0.31 (0.30 to 0.32), 11 % below the target of 0.35.",
                    "Two drives bracket the target; the knob law between them is smooth.",
                ),
                probability_within_10_percent=0.93,
                knob_law=knob_law(0.23, 0.62),
            ),
            "rear": AxleAdvice(
                clicks=Change(now=8, next=8 if done else 10),
                predicted_damping_ratio=between(0.344, 0.024),
                spring_rate_n_per_m=Change(now=34000.0, next=30646.0),
                predicted_body_frequency_hz=between(1.423, 0.021),
                clicks_with_next_spring=9,
                perch_turns=3.5,
                done=done,
                state=state,
                reasons=("run-2.csv measured 0.302 (0.292 to 0.312), 14 % below the target.",),
                probability_within_10_percent=0.86,
                knob_law=knob_law(0.19, 0.55),
            ),
        },
        done=done,
        next_run="Turn front to 9 and rear to 10, then drive the same stretch at the same speed.",
        cautions=("Never work under a car on a jack alone.",),
        notes=(),
    )


def check() -> CheckResult:
    time_s = np.linspace(0, 62, 240)
    wave = 12 * np.sin(time_s) + 5 * np.sin(5.3 * time_s)
    strips = tuple(
        StripCurve(channel=name, unit=unit, time_s=time_s, low=wave - 4, high=wave + 4)
        for name, unit in (("travel_fl", "mm"), ("body_fl", "m/s2"), ("hub_rr", "m/s2"))
    )
    return CheckResult(
        log=full_result().log,
        can_tell=(
            Ability(
                key="front_frequency_and_damping",
                question="front body frequency and damping",
                possible=True,
                reason="travel and body sensors together, the surest way",
            ),
            Ability(
                key="comfort",
                question="ride comfort",
                possible=False,
                reason="needs an accelerometer on the body",
            ),
        ),
        problems=full_result().problems,
        notes=("travel_fl was moved by 9.2 ms for this look.",),
        strips=strips,
    )
