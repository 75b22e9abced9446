"""Cars drawn at random, as wide apart as what people bring to a garage."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ridelog.simulate.dampers import (
    CurveFamily,
    DamperCurve,
    Knob,
    KnobFamily,
    knob_factor,
    side_force_n,
)
from ridelog.simulate.true_car import (
    StatedErrors,
    Stops,
    Torsion,
    TrueAxle,
    TrueCar,
    TrueDamper,
)
from ridelog.simulate.truth import SECANT_SPEED_M_PER_S

Random = np.random.Generator
LBF_PER_IN = 175.126835


@dataclass(frozen=True, slots=True, kw_only=True)
class CarStyle:
    """What kind of cars to draw.

    `tired_side` weakens one damper. The switches below it are model errors that estimators do not
    expect: soft damper mounts, a twisting body, a motion ratio that changes with travel, wrong
    masses in the car file. `bleed_share` of the damper sides are soft near standstill, where oil
    passes a bleed hole alone.
    """

    linear_dampers: bool = False
    curve_families: tuple[CurveFamily, ...] = ("knee", "knee", "saturating", "root")
    bleed_share: float = 0.4
    rebound_over_bump: tuple[float, float] = (1.0, 2.6)
    friction_n: tuple[float, float] = (15.0, 70.0)
    damping_ratio: tuple[float, float] = (0.1, 0.8)
    tired_side: bool = False
    soft_mounts: bool = False
    twisting_body: bool = False
    varying_ratio: bool = False
    wrong_masses: bool = False


def random_car(rng: Random, style: CarStyle, name: str = "car") -> TrueCar:
    """Draw one car.

    Parameters
    ----------
    rng : numpy.random.Generator
        The source of chance.
    style : CarStyle
        What to draw.
    name : str
        Its name.
    """
    front = _axle(rng, style, rear=False)
    rear = _axle(rng, style, rear=True)
    if style.tired_side:
        if rng.random() < 0.5:
            front = _with_tired_side(rng, front)
        else:
            rear = _with_tired_side(rng, rear)
    mass_error = 0.02 if style.wrong_masses else 0.0
    twisting = style.twisting_body
    return TrueCar(
        name=name,
        wheelbase_m=rng.uniform(2.3, 3.0),
        front=front,
        rear=rear,
        pitch_index_ratio=rng.uniform(0.8, 1.1),
        roll_radius_ratio=rng.uniform(0.34, 0.44),
        gravity_height_m=rng.uniform(0.45, 0.7),
        roll_arm_m=rng.uniform(0.25, 0.5),
        anti_ratio=rng.uniform(0.0, 0.4),
        engine_place_m=(rng.uniform(-0.3, 0.3), rng.uniform(-0.2, 0.2)),
        torsion=_torsion(rng) if twisting else None,
        stated=StatedErrors(
            spring_rate=_pair(np.exp(rng.normal(0, 0.04, 2))),
            sprung_mass=_pair(np.exp(rng.normal(0, mass_error, 2))),
            gap_m=_pair(rng.normal(0, 0.0005, 2)),
        ),
        target_body_frequency_hz=(
            round(rng.uniform(1.1, 1.7), 2),
            round(rng.uniform(1.2, 1.8), 2),
        ),
        target_damping_ratio=(round(rng.uniform(0.28, 0.45), 2), round(rng.uniform(0.28, 0.45), 2)),
    )


def _pair(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, float]:
    return float(values[0]), float(values[1])


def _torsion(rng: Random) -> Torsion:
    # Open and old bodies, stiffness per degree of twist: common practice, no source.
    per_degree = float(np.exp(rng.uniform(np.log(4e3), np.log(15e3))))
    return Torsion(
        stiffness_n_m_per_rad=np.rad2deg(per_degree),
        frequency_hz=rng.uniform(15, 28),
        damping_ratio=rng.uniform(0.02, 0.05),
    )


def _axle(rng: Random, style: CarStyle, *, rear: bool) -> TrueAxle:
    solid = rear and rng.random() < 0.5
    sprung = rng.uniform(250, 800) if rear else rng.uniform(300, 900)
    track = rng.uniform(1.3, 1.6)
    ratio = rng.uniform(0.7, 1.0) if solid else rng.uniform(0.5, 0.97)
    frequency = rng.uniform(1.0, 2.3)
    wheel_rate = (2 * np.pi * frequency) ** 2 * sprung / 2
    bar = 0.0 if rng.random() < 0.3 else wheel_rate * rng.uniform(0.1, 0.6)
    unsprung = sprung * rng.uniform(0.10, 0.18) + (70 if solid else 10)
    gap = rng.uniform(0.03, 0.06)
    axle = TrueAxle(
        layout="solid" if solid else "independent",
        track_m=track,
        damper_spacing_m=track * rng.uniform(0.6, 0.85) if solid else None,
        sprung_mass_kg=sprung,
        unsprung_mass_kg=unsprung,
        spring_rate_n_per_m=wheel_rate / ratio**2,
        motion_ratio=ratio,
        motion_ratio_slope_per_m=rng.uniform(-0.5, 1.0) * ratio if style.varying_ratio else 0.0,
        tyre_rate_n_per_m=rng.uniform(160e3, 260e3),
        tyre_damping_n_s_per_m=rng.uniform(20, 120),
        bar_rate_n_per_m=bar,
        axle_inertia_ratio=rng.uniform(0.5, 0.9),
        dampers=_dampers(rng, style, wheel_rate * sprung / 2, ratio),
        stops=Stops(
            bump_gap_m=gap,
            droop_gap_m=gap * rng.uniform(0.8, 1.4),
            bump_rate_n_per_m=rng.uniform(20e3, 80e3),
            bump_cubic_n_per_m3=rng.uniform(100e6, 500e6),
        ),
    )
    return _with_knob(rng, axle)


def _dampers(
    rng: Random, style: CarStyle, rate_times_mass: float, motion_ratio: float
) -> tuple[TrueDamper, TrueDamper]:
    """Draw a healthy pair whose mean secant damping at 0.05 m/s is a drawn damping ratio."""
    # Evenly on a log scale: a ratio of 0.7 is rarer in life than 0.2.
    damping_ratio = float(np.exp(rng.uniform(*np.log(style.damping_ratio))))
    wanted = damping_ratio * 2 * np.sqrt(rate_times_mass) / motion_ratio**2
    symmetric = style.linear_dampers and rng.random() < 0.3
    split = 1.0 if symmetric else rng.uniform(*style.rebound_over_bump)
    bump_secant, rebound_secant = 2 * wanted / (1 + split), 2 * wanted * split / (1 + split)
    damper = TrueDamper(
        bump=_curve(rng, style, bump_secant),
        rebound=_curve(rng, style, rebound_secant),
        friction_n=rng.uniform(*style.friction_n),
        friction_width_m_per_s=float(np.exp(rng.uniform(np.log(0.0015), np.log(0.008)))),
        mount_lag_s=rng.uniform(0.0005, 0.003) if style.soft_mounts else 0.0,
    )
    return damper, damper


def _curve(rng: Random, style: CarStyle, secant: float) -> DamperCurve:
    families = style.curve_families
    family = "linear" if style.linear_dampers else families[int(rng.integers(len(families)))]
    curve = DamperCurve(
        family=family,
        slope_n_s_per_m=1.0,
        knee_m_per_s=rng.uniform(0.05, 0.2),
        high_speed_ratio=rng.uniform(0.25, 0.7),
        bleed_ratio=0.0 if _is_straight(rng, style) else rng.uniform(0.1, 0.5),
        bleed_speed_m_per_s=rng.uniform(0.01, 0.03),
    )
    speed = np.array([SECANT_SPEED_M_PER_S])
    return curve.scaled(secant * SECANT_SPEED_M_PER_S / float(side_force_n(curve, speed)[0]))


def _is_straight(rng: Random, style: CarStyle) -> bool:
    return style.linear_dampers or bool(rng.random() < 1 - style.bleed_share)


def _with_knob(rng: Random, axle: TrueAxle) -> TrueAxle:
    """Put a knob on; the drawn damping is what the present click gives."""
    families: tuple[KnobFamily, ...] = (
        "log_power",
        "log_power",
        "linear",
        "inverse",
        "dead_ends",
        "saturating",
    )
    clicks = int(rng.choice([10, 12, 16, 18, 20, 24, 30]))
    span = float(np.exp(np.clip(rng.normal(1.34, 0.4), np.log(1.5), np.log(10))))
    knob = Knob(
        clicks=clicks,
        soft_ratio=1 / np.sqrt(span),
        stiff_ratio=np.sqrt(span),
        family=families[int(rng.integers(len(families)))],
        shape=float(np.exp(rng.normal(0, 0.25))),
        bump_share=rng.uniform(0.6, 1.0),
        irregular=tuple(float(x) for x in rng.normal(0, 0.02, clicks + 1)),
    )
    click = int(rng.integers(clicks // 5, clicks - clicks // 5 + 1))
    factor = knob_factor(knob, click)
    dampers = tuple(
        replace(
            damper,
            bump=damper.bump.scaled(factor**-knob.bump_share),
            rebound=damper.rebound.scaled(1 / factor),
        )
        for damper in axle.dampers
    )
    return replace(axle, knob=knob, clicks=(click, click), dampers=(dampers[0], dampers[1]))


def _with_tired_side(rng: Random, axle: TrueAxle) -> TrueAxle:
    left, right = axle.dampers
    condition = rng.uniform(0.3, 0.7)
    if rng.random() < 0.5:
        left = replace(left, condition_ratio=condition)
    else:
        right = replace(right, condition_ratio=condition)
    return replace(axle, dampers=(left, right))
