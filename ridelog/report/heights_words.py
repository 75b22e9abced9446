"""The heights sheet in words, shared by terminal and page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ridelog.advise.cautions import CLEARANCE, LAW, LOADED, ON_STANDS
from ridelog.advise.height_result import CornerPerch, HeightsAdvice
from ridelog.advise.tired_dampers import CORNER_WORDS
from ridelog.car.measured import Measured
from ridelog.recording import CORNERS
from ridelog.report.numbers import number

BLANK = ""
SMALLEST_TURN = 0.05
SMALLEST_MM = 0.1
POUND_KG = 0.45359237

BARS_STEP = {
    False: "Unhook one end of each anti-roll bar.",
    True: "Leave the anti-roll bars hooked in: the turns are reckoned with them.",
}
STEPS = (
    "Level ground, pressures set, fuel and driver's weight as usual. Roll and rock the car, "
    "measure all four heights, write them in.",
    "Count the turns of thread that show at each perch; write them in.",
    "Car on rated stands, wheels hanging. Clean and grease the threads, loosen the lock rings.",
    "Turn each perch as told, both of an axle before the next. Mark the perch to count turns.",
    "Tighten lock rings. Wheels on, torque them, car down. Roll and rock it, measure again.",
    "Check clearance at full lock, full bump and full droop. Alignment, headlamps.",
    "Torque wheels and mounts again after the first drive.",
)


BARS_BACK = "Hang the bars in again, links set so that they go in without force."


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerWords:
    """One corner's part of the sheet; empty where not known."""

    corner: str
    name: str
    action: str
    doubt: str
    before: str
    now: str
    wanted: str
    after: str
    gaps: str


def corner_words(advice: HeightsAdvice) -> tuple[CornerWords, ...]:
    """Word the four corners.

    Parameters
    ----------
    advice : HeightsAdvice
        The sheet.
    """
    return tuple(_corner(corner, advice.corners[corner]) for corner in CORNERS)


def _corner(corner: str, part: CornerPerch) -> CornerWords:
    amount, unit = part.turns or part.perch_up_m, "turns" if part.turns else "mm of thread"
    action, doubt = _turn(amount, unit) if amount is not None else ("", "")
    return CornerWords(
        corner=corner,
        name=CORNER_WORDS[corner],
        action=action,
        doubt=doubt,
        before=_mm(part.before_m),
        now=_mm(part.now_m),
        wanted=_mm(part.wanted_m),
        after="" if part.after_m is None else _mm(part.after_m.value),
        gaps=_gaps(part),
    )


def _turn(amount: Measured, unit: str) -> tuple[str, str]:
    """Say which way and how far, and how sure that is."""
    scale, smallest = (1.0, SMALLEST_TURN) if unit == "turns" else (1000.0, SMALLEST_MM)
    value = amount.value * scale
    half = (amount.high - amount.low) / 2 * scale
    doubt = f"+-{number(half, 1)}"
    if abs(value) < smallest:
        return "leave", doubt
    way = "up" if value > 0 else "down"
    if abs(value) < half:
        doubt += ", unsure"
    return f"{way} {number(abs(value), 1)} {unit}", doubt


def _mm(height_m: float | None) -> str:
    return BLANK if height_m is None else number(1000 * height_m, 0)


def _gaps(part: CornerPerch) -> str:
    """Say what is left to the stops, where the car file states it."""
    gaps = (("bump", part.bump_gap_m), ("droop", part.droop_gap_m))
    said = [f"{name} {number(1000 * gap, 0)} mm" for name, gap in gaps if gap is not None]
    return "" if not said else f"then to the stops: {', '.join(said)}"


def step_words(advice: HeightsAdvice) -> tuple[str, ...]:
    """List the steps of the work, in order.

    Parameters
    ----------
    advice : HeightsAdvice
        The sheet; says whether the bars are reckoned with.
    """
    if advice.bars_hooked:
        return (*STEPS[:2], BARS_STEP[True], *STEPS[2:])
    return (*STEPS[:2], BARS_STEP[False], *STEPS[2:5], BARS_BACK, *STEPS[5:])


def raise_rows(advice: HeightsAdvice) -> tuple[tuple[str, ...], ...]:
    """Rows of what one turn does: place, rise over each wheel [mm], cross weight [%].

    Parameters
    ----------
    advice : HeightsAdvice
        The sheet.
    """
    return tuple(
        (
            CORNER_WORDS[corner],
            *(f"{1000 * effect.height_m[other]:+.1f}" for other in CORNERS),
            f"{100 * effect.cross_weight:+.2f}",
        )
        for corner in CORNERS
        for effect in (advice.one_raise[corner],)
    )


def raise_title(advice: HeightsAdvice) -> str:
    """Head the table of what one turn does; millimetres of thread where no pitch is known."""
    known = [effect.turns is not None for effect in advice.one_raise.values()]
    what = "One turn up (one millimetre where the pitch is not known)"
    if len(set(known)) == 1:
        what = "One turn up" if known[0] else "One millimetre of thread up"
    return f"{what} at one perch: rise over each wheel [mm]"


def pattern_rows(advice: HeightsAdvice) -> tuple[tuple[str, ...], ...]:
    """Rows of the patterns: what it does, perches in turns or mm, what stays.

    Parameters
    ----------
    advice : HeightsAdvice
        The sheet.
    """
    return tuple(
        (
            pattern.does,
            *(_signed(pattern.turns[c], pattern.perch_up_m[c]) for c in CORNERS),
            pattern.keeps,
        )
        for pattern in advice.patterns
    )


def _signed(turns: float | None, rise_m: float) -> str:
    value = round(1000 * rise_m if turns is None else turns, 1) + 0.0
    if value == 0:
        return "0"
    return f"{value:+.1f} mm" if turns is None else f"{value:+.1f}"


def pattern_title(advice: HeightsAdvice) -> str:
    """Head the table of patterns."""
    turns = all(pitch is not None for pitch in advice.pitch_m.values())
    return f"Perches together [{'turns' if turns else 'turns, or mm of thread'}, up positive]"


def scale_rows(advice: HeightsAdvice) -> tuple[tuple[str, str], ...]:
    """Rows of what the scales say; empty without scales.

    Parameters
    ----------
    advice : HeightsAdvice
        The sheet.
    """
    scales = advice.scales
    if scales is None:
        return ()
    cross = scales.cross_weight
    weights = ", ".join(f"{c} {number(scales.weight_kg[c], 0)}" for c in CORNERS)
    return (
        ("scales [kg]", f"{weights}; together {number(scales.total_kg, 0)}"),
        (
            "cross weight (right front + left rear)",
            f"{100 * cross.value:.1f} % ({100 * cross.low:.1f} to {100 * cross.high:.1f}), "
            f"wanted {100 * scales.wanted_cross_weight:.1f} %",
        ),
        ("front", f"{100 * scales.front_weight:.1f} %"),
        ("left", f"{100 * scales.left_weight:.1f} %"),
    )


def heights_cautions() -> tuple[str, ...]:
    """Cautions of work under the car."""
    return (LOADED, ON_STANDS, CLEARANCE, LAW)


def pitch_words(pitch_m: Mapping[str, float | None]) -> str:
    """Say the thread pitches: ``thread 1.5 mm a turn``."""
    pitches = sorted({pitch for pitch in pitch_m.values() if pitch is not None})
    said = " and ".join(f"{1000 * pitch:g} mm" for pitch in pitches)
    return f"thread {said} a turn" if said else ""
