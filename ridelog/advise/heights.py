"""Perch turns for wanted ride heights and corner weights, and what each turn does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ridelog.advise.height_notes import has_bars, height_notes
from ridelog.advise.height_result import (
    CornerPerch,
    Corners,
    HeightsAdvice,
    HeightSettings,
    OneRaise,
    Pattern,
    ScaleReading,
)
from ridelog.advise.perch_turns import PerchRises, perch_rises
from ridelog.advise.readings import COVERAGE_FACTOR
from ridelog.advise.spring_rates import SpringSettings
from ridelog.car.description import Car
from ridelog.car.measured import Measured, around
from ridelog.estimate.stiff_body import PerchResponse, body_rows, perch_response
from ridelog.recording import (
    AXLES,
    CORNERS,
    CORNERS_OF_AXLE,
    STANDARD_GRAVITY_M_PER_S2,
    FloatArray,
)
from ridelog.runs.height_figures import HeightFigures


def advise_heights(
    car: Car, figures: HeightFigures, settings: HeightSettings | None = None
) -> HeightsAdvice:
    """Perch turns that bring heights, and cross weight where scales were used, to what is wanted.

    Parameters
    ----------
    car : Car
        The car.
    figures : HeightFigures
        Heights and weights; each mapping empty or with all four corners. Without wanted heights
        each axle is made even at its present mean.
    settings : HeightSettings, optional
        How well tapes and scales are read.

    Returns
    -------
    HeightsAdvice

    Notes
    -----
    The four height changes of a stiff body lie in one plane. The plane nearest to what is wanted is
    reached by perch rises that change no wheel load; what is out of plane stays. Where scales were
    used, rises that change no height are added to bring the cross weight over.

    References
    ----------
    `ridelog.estimate.stiff_body`; corner weight practice of the trade (common practice, no source).
    """
    settings = settings or HeightSettings()
    tyres, assumed = _tyre_rates(car)
    response = perch_response(car, tyres)
    scales = _scales(figures, settings)
    wanted = _wanted(figures)
    rises, warp = _height_rises(car, figures, wanted)
    perch = None
    if rises is not None or scales is not None:
        perch = perch_rises(car, rises, scales, tyres, settings)
    return HeightsAdvice(
        corners=_corners(car, figures, wanted, rises, perch, settings),
        one_raise=_one_raises(car, response, scales, settings),
        patterns=_patterns(car, response, scales),
        scales=scales,
        warp_m=warp,
        tyre_rate_n_per_m=tyres,
        tyre_rate_assumed=assumed,
        pitch_m=_pitches(car),
        bars_hooked=has_bars(car),
        notes=height_notes(car, figures, warp, scales, assumed, settings),
    )


def _tyre_rates(car: Car) -> tuple[tuple[float, float], bool]:
    usual = SpringSettings().default_tyre_rate_n_per_m
    stated = [axle.tyre_rate_n_per_m for axle in (car.front, car.rear)]
    front, rear = (rate or usual for rate in stated)
    return (front, rear), None in stated


def _pitches(car: Car) -> dict[str, float | None]:
    return {c: car.axle(name).perch_thread_pitch_m for name in AXLES for c in CORNERS_OF_AXLE[name]}


def _vector(values: Corners) -> FloatArray:
    return np.array([values[corner] for corner in CORNERS])


def _by_corner(values: FloatArray) -> dict[str, float]:
    return dict(zip(CORNERS, values.tolist(), strict=True))


def _wanted(figures: HeightFigures) -> dict[str, float]:
    """Heights to aim at: those stated, else each axle even at its present mean."""
    if figures.wanted_m:
        return dict(figures.wanted_m)
    if not figures.now_m:
        return {}
    return {
        corner: sum(figures.now_m[c] for c in pair) / 2
        for pair in CORNERS_OF_AXLE.values()
        for corner in pair
    }


def _height_rises(
    car: Car, figures: HeightFigures, wanted: Corners
) -> tuple[FloatArray | None, float | None]:
    """Rise of the body over each wheel nearest to what is wanted [m], and what is out of plane."""
    if not figures.now_m or not wanted:
        return None, None
    change = _vector(wanted) - _vector(figures.now_m)
    body = body_rows(car)
    rises = body @ np.linalg.lstsq(body, change, rcond=None)[0]
    warp = float((change - rises) @ np.array([1.0, -1.0, -1.0, 1.0]))
    return rises, warp


def _cross(load: FloatArray) -> float:
    """Load on right front and left rear together."""
    return float(load[1] + load[2])


def _corners(
    car: Car,
    figures: HeightFigures,
    wanted: Corners,
    rises: FloatArray | None,
    perch: PerchRises | None,
    settings: HeightSettings,
) -> dict[str, CornerPerch]:
    found = {}
    pitches = _pitches(car)
    for index, corner in enumerate(CORNERS):
        axle = car.front if index < 2 else car.rear
        now, pitch = figures.now_m.get(corner), pitches[corner]
        part = CornerPerch(
            before_m=figures.before_m.get(corner), now_m=now, wanted_m=wanted.get(corner)
        )
        if perch is not None:
            up = around(float(perch.rise_m[index]), COVERAGE_FACTOR * float(perch.sd_m[index]))
            part = replace(part, perch_up_m=up, turns=_turns(up, pitch))
        if rises is not None and now is not None:
            rise = float(rises[index])
            # Damper travel in a lean of a solid axle differs a little; gaps are read to a mm.
            extends = axle.motion_ratio * rise
            part = replace(
                part,
                after_m=around(now + rise, COVERAGE_FACTOR * settings.height_sd_m),
                bump_gap_m=None if axle.bump_gap_m is None else axle.bump_gap_m + extends,
                droop_gap_m=None if axle.droop_gap_m is None else axle.droop_gap_m - extends,
            )
        found[corner] = part
    return found


def _turns(rise: Measured, pitch: float | None) -> Measured | None:
    if pitch is None:
        return None
    return Measured(value=rise.value / pitch, low=rise.low / pitch, high=rise.high / pitch)


def _total_n(car: Car, scales: ScaleReading | None) -> float:
    axles = (car.front, car.rear)
    mass = sum(axle.sprung_mass_kg + axle.unsprung_mass_kg for axle in axles)
    return (mass if scales is None else scales.total_kg) * STANDARD_GRAVITY_M_PER_S2


def _one_raises(
    car: Car, response: PerchResponse, scales: ScaleReading | None, settings: HeightSettings
) -> dict[str, OneRaise]:
    pitches = _pitches(car)
    found = {}
    for index, corner in enumerate(CORNERS):
        pitch = pitches[corner]
        rise = pitch or settings.fallback_raise_m
        load = response.load_n_per_m[:, index] * rise
        found[corner] = OneRaise(
            perch_up_m=rise,
            turns=None if pitch is None else 1.0,
            height_m=_by_corner(response.height_m_per_m[:, index] * rise),
            load_n=_by_corner(load),
            cross_weight=_cross(load) / _total_n(car, scales),
        )
    return found


def _patterns(
    car: Car, response: PerchResponse, scales: ScaleReading | None
) -> tuple[Pattern, ...]:
    """Height without cross weight, and cross weight without height."""
    plane = response.perch_for_plane * 0.01
    cross = response.perch_for_cross_m_per_n * 0.01 * _total_n(car, scales)
    shapes = (
        ("raises the front by 10 mm", "cross weight", plane[:, 0]),
        ("raises the rear by 10 mm", "cross weight", plane[:, 1]),
        ("lifts the left by 10 mm against the right", "cross weight", plane[:, 2]),
        ("adds 1 % cross weight", "all heights", cross),
    )
    pitches = _pitches(car)
    return tuple(
        Pattern(
            does=does,
            keeps=keeps,
            perch_up_m=_by_corner(rises),
            turns={
                corner: None if (pitch := pitches[corner]) is None else float(rise / pitch)
                for corner, rise in _by_corner(rises).items()
            },
        )
        for does, keeps, rises in shapes
    )


def _scales(figures: HeightFigures, settings: HeightSettings) -> ScaleReading | None:
    if not figures.weight_kg:
        return None
    weight = _vector(figures.weight_kg)
    total = float(weight.sum())
    cross = float(weight[1] + weight[2]) / total
    # Each scale errs by itself: shares of the two diagonals weigh the errors.
    signs = np.array([-cross, 1 - cross, 1 - cross, -cross])
    sd = settings.scale_sd_ratio * float(np.sqrt(np.sum((signs * weight) ** 2))) / total
    return ScaleReading(
        weight_kg=dict(figures.weight_kg),
        total_kg=total,
        cross_weight=around(cross, COVERAGE_FACTOR * sd),
        front_weight=float(weight[:2].sum()) / total,
        left_weight=float(weight[0] + weight[2]) / total,
        wanted_cross_weight=figures.wanted_cross_weight,
    )


def without_bars(car: Car) -> Car:
    """Unhook both anti-roll bars.

    Parameters
    ----------
    car : Car
        The car.

    References
    ----------
    Common practice of setting heights, no source.
    """
    return replace(
        car,
        front=replace(car.front, bar_rate_n_per_m=None),
        rear=replace(car.rear, bar_rate_n_per_m=None),
    )
