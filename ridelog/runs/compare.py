"""Did it help: what changed between two runs, and whether it is more than chance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import hypot, log
from pathlib import Path

from ridelog.car.description import Car
from ridelog.errors import FileError
from ridelog.estimate.result import AxleResult, Estimate
from ridelog.recording import AXLES, Recording
from ridelog.runs.block_statistics import (
    BlockSettings,
    LogChange,
    change_of_estimates,
)
from ridelog.runs.collect import Run, collect_runs
from ridelog.runs.compare_comfort import comfort_change
from ridelog.runs.compare_contacts import contact_remark
from ridelog.runs.quantity_change import QuantityChange, quantity_change
from ridelog.runs.same_stretch import comfort_blocks
from ridelog.runs.setup_change import setup_changes

QUANTITIES: tuple[tuple[str, str], ...] = (
    ("damping_ratio", "damping ratio"),
    ("damping_ratio_bump", "bump damping ratio"),
    ("damping_ratio_rebound", "rebound damping ratio"),
    ("body_frequency_hz", "body frequency"),
)
"""Axle quantities compared: field of `AxleResult` and its name in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Two runs side by side: what was set differently, what came of it, and remarks."""

    first: str
    second: str
    setup: tuple[str, ...]
    quantities: tuple[QuantityChange, ...]
    notes: tuple[str, ...] = ()


def compare_runs(
    run_a: Run,
    run_b: Run,
    car: Car,
    recordings: tuple[Recording, Recording] | None = None,
    settings: BlockSettings | None = None,
) -> Comparison:
    """Tell what changed from one run to another and whether it is more than chance.

    Parameters
    ----------
    run_a, run_b : Run
        First and second run of the same car.
    car : Car
        The car; its targets say what is better.
    recordings : tuple of Recording, optional
        The clean recordings of both runs; with them ride comfort is compared block by block.
    settings : BlockSettings, optional
        How blocks and runs scatter.

    Returns
    -------
    Comparison
        One entry for every quantity that both runs tell.

    Notes
    -----
    Errors that both runs share (sensor gains, masses) cancel in the difference; the spread of
    drives of an unchanged car is added. Comfort on unlike roads is scaled by the road's own level,
    where both logs tell it.

    References
    ----------
    JCGM 100:2008 (GUM), 5.2; the rest derived here.
    """
    settings = settings or BlockSettings()
    quantities: list[QuantityChange] = []
    notes = [
        f"{run.file} has no setup file, so what was set for it is not known."
        for run in (run_a, run_b)
        if run.setup is None
    ]
    for axle in AXLES:
        quantities.extend(_axle_changes(run_a, run_b, car, axle, settings))
        notes.extend(filter(None, (contact_remark(run_a, run_b, axle),)))
    if recordings is not None:
        blocks = comfort_blocks(*recordings)
        if blocks is None:
            notes.append("Ride comfort not compared: no body accelerometer common to both logs.")
        else:
            comfort, remarks = comfort_change(run_a, run_b, blocks, settings)
            quantities.extend(comfort)
            notes.extend(remarks)
    if not quantities:
        notes.append("Nothing to compare: no quantity was measured in both runs.")
    return Comparison(
        first=run_a.file,
        second=run_b.file,
        setup=setup_changes(run_a.setup, run_b.setup, car),
        quantities=tuple(quantities),
        notes=tuple(notes),
    )


def compare_logs(
    first: Path,
    second: Path,
    car_path: Path | None,
    progress: Callable[[str], None] | None = None,
) -> Comparison:
    """Analyze two logs of one car and compare them, in the order given.

    Parameters
    ----------
    first, second : Path
        The logs.
    car_path : Path or None
        The car file; ``car.toml`` beside the first log where None.
    progress : callable, optional
        Told in one line what is being read.

    Returns
    -------
    Comparison
        As `compare_runs`, with the recordings.

    Raises
    ------
    FileError
        The same log twice, or as `collect_runs`.
    """
    from ridelog.condition.prepare import prepare
    from ridelog.ingest.read import read_log

    if first.resolve() == second.resolve():
        raise FileError(first, "named twice; name two different logs")
    car, runs = collect_runs((first, second), car_path, progress)
    by_path = {run.path: run for run in runs}
    pair = [by_path[path.resolve()] for path in (first, second)]
    clean = [prepare(read_log(run.path, car.logger), car).recording for run in pair]
    return compare_runs(pair[0], pair[1], car, (clean[0], clean[1]))


def _axle_changes(
    run_a: Run, run_b: Run, car: Car, axle: str, settings: BlockSettings
) -> list[QuantityChange]:
    """Compare the estimates of one axle."""
    pair = (run_a.analysis.axles.get(axle), run_b.analysis.axles.get(axle))
    driven_s = run_a.analysis.log.duration_s + run_b.analysis.log.duration_s
    found = []
    for field, name in QUANTITIES:
        both = [_positive(result, field) for result in pair]
        if both[0] is None or both[1] is None:
            continue
        steady = field.endswith("_hz")
        scatter = replace(settings, run_to_run_sd=settings.frequency_run_sd) if steady else settings
        how = ("", "") if steady else (_method(pair[0]), _method(pair[1]))
        change = change_of_estimates(both[0], both[1], scatter, methods=how)
        target = _target(car, axle, field)
        verdict = _towards(change, both[0], both[1], target)
        found.append(
            quantity_change(
                name,
                axle,
                "Hz" if steady else "",
                (both[0], both[1]),
                change,
                verdict=verdict,
                driven_s=driven_s,
                method="estimates",
                settings=scatter,
            )
        )
    return found


def _method(result: AxleResult | None) -> str:
    """How an axle was measured."""
    return "" if result is None else result.method


def _positive(result: AxleResult | None, field: str) -> Estimate | None:
    """One estimate of an axle, if there is one and a logarithm of it."""
    estimate: Estimate | None = getattr(result, field) if result else None
    return estimate if estimate is not None and estimate.value > 0 else None


def _target(car: Car, axle: str, field: str) -> float | None:
    """What the owner wants of a quantity."""
    described = car.axle(axle)
    return {
        "damping_ratio": described.target_damping_ratio,
        "body_frequency_hz": described.target_body_frequency_hz,
    }.get(field)


def _towards(change: LogChange, first: Estimate, second: Estimate, target: float | None) -> str:
    """Judge a change by the distance to the target.

    The second is nearer exactly if the target lies on its side of the middle of both; what both
    estimates have wrong in common moves that middle.
    """
    if not change.proven:
        return "cannot tell"
    if target is None:
        return "changed"
    middle = (log(first.value) + log(second.value)) / 2
    widths = [(e.high - e.low) / (2 * 1.96 * e.value) for e in (first, second)]
    sure = (log(target) - middle) / max(hypot(change.sd / 2, *(w / 2 for w in widths)), 1e-9)
    sure = sure if change.change > 0 else -sure
    if abs(sure) < 1.64:
        return "changed"
    return "better" if sure > 0 else "worse"
