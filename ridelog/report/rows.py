"""Table rows in words, shared by the terminal and the page."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.advise.tired_dampers import CORNER_WORDS
from ridelog.car.description import Car
from ridelog.estimate.result import (
    AnalysisResult,
    CornerResult,
    Estimate,
    LogInfo,
    StopContacts,
)
from ridelog.recording import CORNERS, Problem
from ridelog.report.numbers import (
    estimate_words,
    interval_words,
    plain,
    plus_minus_words,
    value_words,
)
from ridelog.report.quantities import AXLE_QUANTITIES, Quantity, spoken
from ridelog.report.verdict import against_target, deepest_mm, is_certain


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleRow:
    """One quantity of an axle; `state` is the verdict's, for marking the row."""

    words: str
    value: str
    interval: str
    target: str
    verdict: str
    state: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerRow:
    """One corner: damping, travel used and stops, in words; empty where not known."""

    words: str
    damping: str
    travel: str
    bump_stop: str
    top_out: str


def axle_rows(name: str, result: AnalysisResult, car: Car) -> tuple[AxleRow, ...]:
    """Rows of one axle's table; empty where the log tells nothing of the axle.

    What has a target is listed even where it is not known.

    Parameters
    ----------
    name : str
        ``front`` or ``rear``.
    result : AnalysisResult
        The analysis.
    car : Car
        The car with its targets.
    """
    measured = result.axles.get(name)
    axle = car.axle(name)
    rows = []
    if measured is None or not any(getattr(measured, q.field) for q in AXLE_QUANTITIES):
        return ()
    for quantity in AXLE_QUANTITIES:
        estimate: Estimate | None = getattr(measured, quantity.field)
        target: float | None = (
            getattr(axle, quantity.target_field) if quantity.target_field else None
        )
        if estimate is not None or target is not None:
            rows.append(_axle_row(quantity, estimate, target))
    return tuple(rows)


def _axle_row(quantity: Quantity, estimate: Estimate | None, target: float | None) -> AxleRow:
    verdict = against_target(estimate, target)
    return AxleRow(
        words=quantity.words,
        value=value_words(estimate, quantity.unit, quantity.scale),
        interval=interval_words(estimate, quantity.scale),
        target="" if target is None else plain(target * quantity.scale),
        verdict=verdict.words,
        state=verdict.state,
    )


def corner_rows(result: AnalysisResult) -> tuple[CornerRow, ...]:
    """Rows of the corner table: only corners of which something is known.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    """
    rows = []
    for corner in CORNERS:
        measured = result.corners.get(corner, CornerResult())
        known = (measured.damping_ratio, measured.travel_mm, measured.bump_stop, measured.top_out)
        if any(part is not None for part in known):
            rows.append(_corner_row(corner, measured))
    return tuple(rows)


def _corner_row(corner: str, measured: CornerResult) -> CornerRow:
    travel = measured.travel_mm
    ratio = measured.damping_ratio
    return CornerRow(
        words=CORNER_WORDS[corner],
        damping=plus_minus_words(ratio),
        travel="" if travel is None else f"{travel.min:.0f} to {travel.max:+.0f} mm",
        bump_stop=_stop_words(measured.bump_stop),
        top_out=_stop_words(measured.top_out),
    )


def _stop_words(stop: StopContacts | None) -> str:
    if stop is None:
        return ""
    if not stop.contacts:
        return "none"
    words, deepest = f"{len(stop.contacts)} x", deepest_mm(stop)
    if not is_certain(stop):
        return f"likely {words}"
    return words if deepest is None else f"{words}, {deepest:.1f} mm"


def force_rows(result: AnalysisResult) -> tuple[tuple[str, ...], ...]:
    """Damper force table: speed, then one cell per corner; empty where no corner has any.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    """
    forces = {
        corner: {point.speed_mps: point.force_n for point in measured.damper_force}
        for corner, measured in result.corners.items()
    }
    speeds = sorted({speed for points in forces.values() for speed in points})
    return tuple(
        (
            f"{speed:+.3f}",
            *(plus_minus_words(forces.get(corner, {}).get(speed)) for corner in CORNERS),
        )
        for speed in speeds
    )


def comfort_rows(result: AnalysisResult) -> tuple[tuple[str, str], ...]:
    """Comfort figures by ISO 2631-1 with their names in words; empty where not known.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    """
    comfort = result.comfort
    if comfort is None:
        return ()
    rows = [
        ("measured at", spoken(comfort.place)),
        ("weighted vertical acceleration", f"{plain(comfort.weighted_rms_mps2)} m/s2 rms"),
        ("highest second (MTVV)", f"{plain(comfort.mtvv_mps2)} m/s2"),
        ("vibration dose (VDV)", f"{plain(comfort.vdv_mps175)} m/s^1.75"),
        ("crest factor", plain(comfort.crest_factor)),
    ]
    if comfort.reaction:
        rows.insert(0, ("feels", comfort.reaction))
    return tuple(rows)


def road_words(result: AnalysisResult) -> str:
    """Say what road was driven, by its ISO 8608 class; empty where not known.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    """
    road = result.road
    if road is None or road.iso8608_class is None:
        return ""
    words = f"ISO 8608 class {road.iso8608_class}"
    if road.gd_n0_m3 is None:
        return words
    return f"{words}, roughness {estimate_words(road.gd_n0_m3, '10^-6 m3', 1e6)}"


def problem_words(problem: Problem) -> str:
    """Word one problem: which channel, what, and whether it was mended for the analysis.

    Parameters
    ----------
    problem : Problem
        The problem.
    """
    names = problem.channels or ((problem.channel,) if problem.channel else ())
    text = problem.text
    if names and not any(name in text for name in names):
        text = f"{' and '.join(names)}: {text}"
    # The text may say so itself; saying it twice reads like two repairs.
    if problem.mended and "mended" not in text:
        text += " (mended for the analysis)"
    return spoken(text)


def log_words(log: LogInfo) -> str:
    """Describe the log in one line: kind, length, rate, gaps.

    Parameters
    ----------
    log : LogInfo
        The log.
    """
    kind = {"drive": "drive", "bounce": "push and release, car standing"}.get(log.kind, log.kind)
    words = f"{kind}, {log.duration_s:.0f} s at {log.sample_rate_hz:.0f} Hz"
    if log.channels:
        words += f", {len(log.channels)} channels"
    if log.gaps:
        count = len(log.gaps)
        words += f", {count} {'gap' if count == 1 else 'gaps'}"
    return words
