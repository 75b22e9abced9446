"""Pictures of the advice: the knob law, and the runs on their way to the target."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.advise.result import Advice, AxleAdvice, KnobLaw, RunSummary
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
        axle, axle_advice = car.axle(name), advice.axles.get(name)
        if axle_advice is not None and axle_advice.knob_law is not None:
            law = axle_advice.knob_law
            pictures.append(knob_picture(name, law, axle_advice, advice.runs, axle))
    for name in AXLES:
        if any(run.damping_ratio.get(name) is not None for run in advice.runs):
            pictures.append(runs_picture(name, advice.runs, car.axle(name)))
    return tuple(pictures)


def knob_picture(
    name: str, law: KnobLaw, advice: AxleAdvice, runs: Sequence[RunSummary], axle: Axle
) -> Picture:
    """Draw the damping expected at every click, the runs, the target and the next click.

    Parameters
    ----------
    name : str
        ``front`` or ``rear``.
    law : KnobLaw
        Damping against clicks, counted from full soft.
    advice : AxleAdvice
        The axle's advice.
    runs : sequence of RunSummary
        The runs so far.
    axle : Axle
        The axle, whose owner's counting labels the clicks.
    """
    clicks = [owner_count(axle, click) or 0 for click in law.clicks]
    following = owner_count(axle, advice.clicks.next)

    def draw(rows: Sequence[Axes]) -> None:
        axes = rows[0]
        axes.fill_between(clicks, law.low, law.high, color=LEFT_COLOUR, alpha=0.18, lw=0)
        axes.plot(clicks, law.damping_ratio, color=LEFT_COLOUR, label="expected, 95 % band")
        for run in runs:
            _run_point(axes, run, name, axle)
        axes.plot([], [], color=MARK_COLOUR, marker="o", ms=4.5, ls="", label="runs")
        _target(axes, axle.target_damping_ratio, TARGET_BAND_RATIO)
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
        axes.set(xlabel=f"knob, {counting_words(axle)}", ylabel="damping ratio")
        axes.set_ylim(bottom=0)
        axes.locator_params(axis="x", integer=True)
        axes.legend(loc="best")

    return picture(
        title=f"What the {name} knob does",
        alt=f"Damping ratio of the {name} axle expected at every click with its 95 % band, "
        f"the runs so far and the next setting, {following}.",
        draw=draw,
    )


def _run_point(axes: Axes, run: RunSummary, name: str, axle: Axle) -> None:
    estimate = run.damping_ratio.get(name)
    clicks = [run.clicks.get(corner) for corner in CORNERS_OF_AXLE[name]]
    known = [click for click in clicks if click is not None]
    if estimate is None or not known:
        return
    position = owner_count(axle, sum(known) / len(known))
    if position is not None:
        _error_bar(axes, position, estimate)


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
