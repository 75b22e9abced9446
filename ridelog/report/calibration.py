"""Calibrations on the terminal: what was found, how surely, and what to write down."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from rich.console import Group, RenderableType
from rich.text import Text

from ridelog.car.channel_values import Values
from ridelog.car.edit import inline
from ridelog.car.measured import Measured
from ridelog.car.motion_ratio import MotionRatioFit
from ridelog.estimate.result import Estimate
from ridelog.ingest.calibration_accelerometer import SixPositionFit, TwoPositionFit
from ridelog.ingest.calibration_zero import ZeroReading
from ridelog.report.numbers import estimate_words, plain
from ridelog.report.text import new_table, section
from ridelog.runs.calibrate_travel import TravelCalibration

ON_STANDS = (
    "Jack and stands on level, hard ground; wheels chocked; body on rated stands before a spring"
    " comes off. Never under a car that hangs on a jack alone.",
    "A loaded spring can kill: take the load off with the right compressor, or have a workshop do"
    " it. Move the axle with a second jack and keep hands out of the linkage.",
    "Do not let the axle hang from brake hoses, wires or the sensor.",
)
"""Common practice, no source; the maker's manual and local codes come first."""


def channel_block(channel: str, values: Values) -> str:
    """Write a channel's keys as they stand in a car file.

    Parameters
    ----------
    channel : str
        The channel.
    values : mapping
        Its keys.
    """
    kept = {key: value for key, value in values.items() if value is not None}
    return f"[logger.channels]\n{channel} = {inline(kept)}"


def two_position_text(fit: TwoPositionFit) -> RenderableType:
    """Lay out a two-position calibration.

    Parameters
    ----------
    fit : TwoPositionFit
        What was found.
    """
    table = new_table(f'Column "{fit.column}", two positions', ("", "95 % interval in brackets"))
    table.add_row("reading per g", _words(fit.reading_per_g))
    table.add_row("reading at 0 g", _words(fit.zero_reading))
    note = "Two positions cannot tell how much the axis feels of the others: six can."
    return Group(table, *_remarks(fit.warnings, [note]))


def six_position_text(fit: SixPositionFit) -> RenderableType:
    """Lay out a six-position calibration.

    Parameters
    ----------
    fit : SixPositionFit
        What was found.
    """
    table = new_table("Six positions: g per reading (half-width)", ("", "x", "y", "z"))
    rows = (*fit.matrix, fit.offset_g)
    for name, row, half in zip((*fit.columns, "offset, g"), rows, fit.half_widths, strict=True):
        cells = (f"{value:.5f} ({wide:.5f})" for value, wide in zip(row, half, strict=True))
        table.add_row(Text(name), *cells)
    angles = ", ".join(f"{angle:.2f}" for angle in fit.angles_deg)
    notes = [
        f"left over: {1000 * fit.residual_g:.2f} mg; angles between axes xy, yz, zx: {angles} deg"
    ]
    cross = ~np.eye(3, dtype=bool)
    if np.all(np.abs(fit.matrix)[cross] < fit.half_widths[:3][cross]):
        notes.append("what an axis feels of the others is less than the placement can tell")
    return Group(table, *_remarks(fit.warnings, notes))


def travel_text(calibration: TravelCalibration) -> RenderableType:
    """Lay out a travel sensor's calibration.

    Parameters
    ----------
    calibration : TravelCalibration
        What was found.
    """
    unit = calibration.unit or "counts"
    table = new_table("Travel sensor", (f"reading, {unit}", "travel, mm (bump positive)"))
    for reading, travel_m in calibration.points:
        table.add_row(f"{reading:.5g}", f"{1000 * travel_m:.2f}")
    notes = []
    fit = calibration.fit
    if fit is not None:
        if fit.slope is not None:
            slope = _words(fit.slope, f"mm per {unit}", 1000.0)
            notes.append(f"slope of the best straight line: {slope}")
        else:
            notes.append("two points leave nothing to judge the sensor by; measure five")
        if len(fit.points) > 2:
            notes.append(
                f"linearity: {100 * fit.linearity_best:.2f} % of span from the best line,"
                f" {100 * fit.linearity_ends:.2f} % from the end points"
            )
            notes.append(
                "curved: the points are followed one by one"
                if fit.curved
                else "straight within 1 %: the best line is used"
            )
    return Group(table, *_remarks(calibration.warnings, notes))


def zero_text(readings: Sequence[ZeroReading]) -> RenderableType:
    """Lay out where travel sensors stand at ride height.

    Parameters
    ----------
    readings : sequence of ZeroReading
        What they showed.
    """
    table = new_table("At ride height, to be taken off", ("channel", "travel"))
    for each in readings:
        table.add_row(each.channel, _words(each.travel_m, "mm", 1000.0))
    warnings = [warning for each in readings for warning in each.warnings]
    return Group(table, *section("Warnings", warnings))


def motion_ratio_text(fit: MotionRatioFit, lever_ratio: float | None) -> RenderableType:
    """Lay out a measured motion ratio.

    Parameters
    ----------
    fit : MotionRatioFit
        What was found.
    lever_ratio : float or None
        The ratio from lever arms, to be held against it.
    """
    table = new_table("Motion ratio, damper / wheel travel", ("", "95 % interval in brackets"))
    table.add_row("at ride height", _words(fit.ratio))
    if fit.change_per_m is not None:
        table.add_row("change per 10 mm of wheel reading", _words(fit.change_per_m, "", 0.01))
    table.add_row("points stray from the curve by", f"{1000 * fit.residual_m:.2f} mm rms")
    notes = list(fit.notes)
    if lever_ratio is not None:
        inside = fit.ratio.low <= lever_ratio <= fit.ratio.high
        verdict = "agrees" if inside else "does not agree: check both"
        notes.append(f"by lever arms {plain(lever_ratio)}, which {verdict}")
    return Group(table, *section("Notes", notes), *section("Cautions", ON_STANDS))


def _words(measured: Measured, unit: str = "", scale: float = 1.0) -> str:
    """Write a number with its interval."""
    estimate = Estimate(value=measured.value, low=measured.low, high=measured.high)
    return estimate_words(estimate, unit, scale)


def _remarks(warnings: Iterable[str], notes: Iterable[str]) -> list[RenderableType]:
    """List warnings and notes."""
    return [*section("Warnings", warnings), *section("Notes", notes)]
