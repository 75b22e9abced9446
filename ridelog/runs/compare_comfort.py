"""Ride comfort in two runs: block by block on the same stretch, else scaled by the road."""

from __future__ import annotations

from math import exp, hypot, log

import numpy as np

from ridelog.estimate.result import Estimate
from ridelog.recording import FloatArray
from ridelog.runs.block_statistics import (
    BlockSettings,
    LogChange,
    mean_error,
    paired_change,
    student_95,
    unpaired_change,
)
from ridelog.runs.collect import Run
from ridelog.runs.quantity_change import QuantityChange, quantity_change
from ridelog.runs.same_stretch import Blocks

ROAD_EXPONENT_SD = 0.07
"""How far ride comfort strays from following the road's height (relative, per log road ratio)."""


def comfort_change(
    run_a: Run, run_b: Run, blocks: Blocks, settings: BlockSettings
) -> tuple[list[QuantityChange], list[str]]:
    """Compare ride comfort of two runs, at equal places or scaled by the road.

    Parameters
    ----------
    run_a, run_b : Run
        The runs, for the level of their roads.
    blocks : Blocks
        Weighted rms of both drives by blocks [m/s2].
    settings : BlockSettings
        How blocks and runs scatter.

    Returns
    -------
    tuple of list
        The comparison, empty where none can be made, and remarks.

    References
    ----------
    ISO 2631-1:1997 for the comfort, ISO 8608:2016 for the road; scaling derived here.
    """
    if min(len(blocks.first), len(blocks.second)) < settings.fewest_blocks:
        need = settings.fewest_blocks * settings.block_s
        return [], [f"Ride comfort not compared: less than {need:.0f} s to set side by side."]
    notes: list[str] = []
    if blocks.paired:
        change, method = paired_change(blocks.first, blocks.second, settings), "paired blocks"
    else:
        change, method = unpaired_change(blocks.first, blocks.second, settings), "blocks"
        scaled = _scaled_by_road(change, run_a, run_b)
        notes.append(f"Ride comfort is compared as a whole: {blocks.why_unpaired}.")
        if scaled is None:
            notes.append(
                "The roads' levels are not known, so ride comfort is not judged: drive the same "
                "stretch with a speed channel."
            )
            return [], notes
        change = scaled
    verdict = "cannot tell"
    if change.proven:
        verdict = "better" if change.change < 0 else "worse"
    values = tuple(_mean_level(values, settings) for values in (blocks.first, blocks.second))
    entry = quantity_change(
        "weighted vibration",
        blocks.place,
        "m/s2",
        (values[0], values[1]),
        change,
        verdict=verdict,
        driven_s=blocks.seconds,
        method=method,
        settings=settings,
    )
    return [entry], notes


def _scaled_by_road(change: LogChange, run_a: Run, run_b: Run) -> LogChange | None:
    """Take the difference of the roads out of a change of comfort; None where it is not known."""
    roads = [run.analysis.road.gd_n0_m3 if run.analysis.road else None for run in (run_a, run_b)]
    if roads[0] is None or roads[1] is None or min(r.low for r in roads if r) <= 0:
        return None
    # Gd is a power density: its root is the road's height.
    rougher = 0.5 * log(roads[1].value / roads[0].value)
    unsure = [0.5 * log(road.high / road.low) / (2 * 1.96) for road in roads if road]
    sd = hypot(change.sd, ROAD_EXPONENT_SD * abs(rougher), *unsure)
    return LogChange(
        change=change.change - rougher, sd=sd, own_sd=change.own_sd, freedom=change.freedom
    )


def _mean_level(values: FloatArray, settings: BlockSettings) -> Estimate:
    """Geometric mean of the blocks with its 95 % interval [m/s2]."""
    logs = np.log(values)
    error, freedom = mean_error(logs, settings)
    middle, width = float(logs.mean()), student_95(freedom) * error
    return Estimate(value=exp(middle), low=exp(middle - width), high=exp(middle + width))
