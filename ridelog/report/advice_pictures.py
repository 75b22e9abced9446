"""Pictures of the advice: the knob law, and the runs on their way to the target."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ridelog.advise.double_knobs import side_targets
from ridelog.advise.knob_part import knob_label
from ridelog.advise.readings import Knob
from ridelog.advise.result import Advice, KnobLaw, RunSummary
from ridelog.car.description import Axle, Car
from ridelog.estimate.result import Estimate
from ridelog.recording import AXLES, CORNERS_OF_AXLE
from ridelog.report.clicks import counting_words, owner_count
from ridelog.report.plots import (
    LEFT_COLOUR,
    MARK_COLOUR,
    RIGHT_COLOUR,
    Axes,
    Picture,
    picture,
)

TARGET_BAND_RATIO = 0.10
"""Within a tenth of the target counts as there, the distance advice aims for."""


def advice_pictures(advice: Advice, car: Car) -> tuple[Picture, ...]:
    """Draw what the advice rests on, front first.

    Parameters
    ----------
    advice : Advice
        The advice.
    car : Car
        The car.
    """
    pictures = []
    for name in AXLES:
        if name in advice.axles:
            pictures.extend(_knob_pictures(name, advice, car.axle(name)))
    for name in AXLES:
        if any(run.damping_ratio.get(name) is not None for run in advice.runs):
            pictures.append(runs_picture(name, advice.runs, car.axle(name)))
    return tuple(pictures)


def _knob_pictures(name: str, advice: Advice, axle: Axle) -> list[Picture]:
    """One axle's knobs: the only one, or one for each stroke."""
    found = advice.axles[name]
    pictures = []
    if found.knob_law is not None:
        points = [(_clicks(run.clicks, name), run.damping_ratio.get(name)) for run in advice.runs]
        view = KnobView(
            what=f"the {name} knob",
            knob="clicks",
            following=found.clicks.next,
            points=_known(points),
            target=axle.target_damping_ratio,
            quantity="damping ratio",
        )
        pictures.append(knob_picture(view, found.knob_law, axle))
    targets = side_targets(axle.target_damping_ratio or 0.0)
    for side, target in zip(("bump", "rebound"), targets, strict=True):
        knob: Knob = "bump_clicks" if side == "bump" else "rebound_clicks"
        change, law = getattr(found, knob), found.side_laws.get(side)
        if law is None or change is None:
            continue
        points = [
            (_clicks(getattr(run, knob), name), run.side_damping_ratio.get(name, {}).get(side))
            for run in advice.runs
        ]
        view = KnobView(
            what=f"the {name} {knob_label(axle, knob)}knob",
            knob=knob,
            following=change.next,
            points=_known(points),
            target=target or None,
            quantity=f"damping ratio in {side}",
        )
        pictures.append(knob_picture(view, law, axle))
    return pictures


def _clicks(by_corner: Mapping[str, int | None], name: str) -> float | None:
    """Mean of left and right, counted from full soft."""
    clicks = [by_corner.get(corner) for corner in CORNERS_OF_AXLE[name]]
    known = [click for click in clicks if click is not None]
    return sum(known) / len(known) if known else None


def _known(
    points: Sequence[tuple[float | None, Estimate | None]],
) -> tuple[tuple[float, Estimate], ...]:
    return tuple((c, e) for c, e in points if c is not None and e is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnobView:
    """What a picture of a knob shows beside its law; clicks counted from full soft."""

    what: str
    knob: Knob
    following: float | None
    points: tuple[tuple[float, Estimate], ...]
    target: float | None
    quantity: str


def knob_picture(view: KnobView, law: KnobLaw, axle: Axle) -> Picture:
    """Draw the damping expected at every click, the runs, the target and the next click.

    Parameters
    ----------
    view : KnobView
        The runs' points, the target and the next click.
    law : KnobLaw
        Damping against clicks, counted from full soft.
    axle : Axle
        The axle, whose owner's counting labels the clicks.
    """
    clicks = [owner_count(axle, click, view.knob) or 0 for click in law.clicks]
    following = owner_count(axle, view.following, view.knob)

    def draw(rows: Sequence[Axes]) -> None:
        axes = rows[0]
        axes.fill_between(clicks, law.low, law.high, color=LEFT_COLOUR, alpha=0.18, lw=0)
        axes.plot(clicks, law.damping_ratio, color=LEFT_COLOUR, label="expected, 95 % band")
        for place, estimate in view.points:
            position = owner_count(axle, place, view.knob)
            if position is not None:
                _error_bar(axes, position, estimate)
        axes.plot([], [], color=MARK_COLOUR, marker="o", ms=4.5, ls="", label="runs")
        _target(axes, view.target, TARGET_BAND_RATIO)
        if following is not None and following in clicks:
            expected = law.damping_ratio[clicks.index(following)]
            axes.plot(
                following,
                expected,
                color=RIGHT_COLOUR,
                marker="D",
                ms=9,
                ls="",
                label=f"next: {following}",
            )
        axes.set(xlabel=f"knob, {counting_words(axle)}", ylabel=view.quantity)
        axes.set_ylim(bottom=0)
        axes.locator_params(axis="x", integer=True)
        axes.legend(loc="best")

    return picture(
        title=f"What {view.what} does",
        alt=f"{view.quantity.capitalize()} expected of {view.what} at every click with its 95 % "
        f"band, the runs so far and the next setting, {following}.",
        draw=draw,
    )


def _error_bar(axes: Axes, position: float, estimate: Estimate) -> None:
    lengths = [[estimate.value - estimate.low], [estimate.high - estimate.value]]
    axes.errorbar(
        position, estimate.value, yerr=lengths, color=MARK_COLOUR, marker="o", ms=4.5, capsize=3
    )


def _target(axes: Axes, target: float | None, band_ratio: float = 0.0) -> None:
    if target is None:
        return
    words = "target"
    if band_ratio > 0:
        low, high = target * (1 - band_ratio), target * (1 + band_ratio)
        axes.axhspan(low, high, color=MARK_COLOUR, alpha=0.07, lw=0)
        words += f", {100 * band_ratio:.0f} % either side"
    axes.axhline(target, color=MARK_COLOUR, ls="--", lw=1.1, label=words)


def runs_picture(name: str, runs: Sequence[RunSummary], axle: Axle) -> Picture:
    """Draw damping and body frequency of each run against their targets.

    Parameters
    ----------
    name : str
        ``front`` or ``rear``.
    runs : sequence of RunSummary
        The runs so far, in their order.
    axle : Axle
        The axle with its targets.
    """
    damping = [run.damping_ratio.get(name) for run in runs]
    frequency = [run.body_frequency_hz.get(name) for run in runs]

    def draw(rows: Sequence[Axes]) -> None:
        _series(rows[0], damping, "damping ratio")
        _target(rows[0], axle.target_damping_ratio, TARGET_BAND_RATIO)
        _series(rows[1], frequency, "body freq. [Hz]")
        _target(rows[1], axle.target_body_frequency_hz)
        rows[0].legend(loc="best")
        names = [_short(run.file) for run in runs]
        # A dollar sign in a file's name is no formula.
        rows[1].set_xticks(range(1, len(runs) + 1), names, parse_math=False)

    return picture(
        title=f"Run by run, {name}",
        alt=f"Damping ratio and body frequency of the {name} axle for each of {len(runs)} runs "
        "with 95 % intervals against their targets.",
        draw=draw,
        rows=2,
        height_in=3.4,
    )


def _series(axes: Axes, estimates: Sequence[Estimate | None], words: str) -> None:
    for index, estimate in enumerate(estimates):
        if estimate is not None:
            _error_bar(axes, index + 1, estimate)
    axes.set_ylabel(words)
    axes.margins(x=0.15, y=0.25)


def _short(file: str) -> str:
    stem = file.rsplit("/", 1)[-1].split(".", 1)[0]
    return stem if len(stem) <= 12 else f"...{stem[-9:]}"
