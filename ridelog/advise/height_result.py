"""The sheet that answers what to turn for wanted ride heights."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ridelog.car.measured import Measured

Corners = Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightSettings:
    """How well heights and weights are read: one standard deviation; common practice, no source.

    `height_sd_m`: a tape on a settled car. `scale_sd_ratio`: of each scale's reading.
    `fallback_raise_m` stands for a turn where the thread pitch is not stated.
    """

    height_sd_m: float = 0.001
    scale_sd_ratio: float = 0.005
    fallback_raise_m: float = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerPerch:
    """One corner: heights [m], perch rise along the spring [m] and turns, positive raises.

    `bump_gap_m` and `droop_gap_m` are the damper's gaps after the change, where stated. None where
    not measured or not stated.
    """

    before_m: float | None = None
    now_m: float | None = None
    wanted_m: float | None = None
    after_m: Measured | None = None
    perch_up_m: Measured | None = None
    turns: Measured | None = None
    bump_gap_m: float | None = None
    droop_gap_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OneRaise:
    """What raising one perch does: rise of the body over each wheel [m], wheel loads [N].

    `turns` is one where the thread pitch is known, else None and `perch_up_m` is one millimetre.
    """

    perch_up_m: float
    turns: float | None
    height_m: Corners
    load_n: Corners
    cross_weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """Perch rises [m] (and turns) of all corners that do one thing and leave the other alone."""

    does: str
    keeps: str
    perch_up_m: Corners
    turns: Mapping[str, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleReading:
    """What four scales say: weights [kg] and shares; cross is right front plus left rear."""

    weight_kg: Corners
    total_kg: float
    cross_weight: Measured
    front_weight: float
    left_weight: float
    wanted_cross_weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightsAdvice:
    """The sheet: corners, what one turn does, the patterns, scales, and what is left over.

    `warp_m` is how far the four wanted changes are out of one plane (left front plus right rear
    over the other diagonal): no perch takes that out of a stiff body.
    """

    corners: Mapping[str, CornerPerch]
    one_raise: Mapping[str, OneRaise]
    patterns: tuple[Pattern, ...]
    scales: ScaleReading | None
    warp_m: float | None
    tyre_rate_n_per_m: tuple[float, float]
    tyre_rate_assumed: bool
    bars_hooked: bool
    pitch_m: Mapping[str, float | None]
    notes: tuple[str, ...]
