"""Pictures of one log: spectra, damper force, travel, damper speed, decays, sensor strips."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridelog.advise.tired_dampers import CORNER_WORDS
from ridelog.estimate.curves import (
    Curves,
    DecayCurve,
    ForceCurve,
    SpectrumCurve,
    SpeedCurve,
    StripCurve,
    TravelCurve,
)
from ridelog.recording import AXLES, CORNERS_OF_AXLE, Problem
from ridelog.report.plots import (
    LEFT_COLOUR,
    MARK_COLOUR,
    MEASURED_COLOUR,
    RIGHT_COLOUR,
    Axes,
    Picture,
    picture,
    side_look,
)
from ridelog.report.quantities import channel_words

STRIP_HEIGHT_IN = 0.66
FREQUENCY_TICKS_HZ = (0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200)
FASTEST_SHOWN_M_PER_S = 0.5
"""Damper speeds that roads make often; knobs and damping ratio are about a tenth of it."""

NEGLIGIBLE_SHARE = 1e-3
"""Histogram bins below this share of the time are left off the ends of the axis."""


def log_pictures(curves: Curves) -> tuple[Picture, ...]:
    """Draw all curves of one analysis that it has, most useful first.

    Parameters
    ----------
    curves : Curves
        The curves.
    """
    pictures: list[Picture] = []
    for axle in AXLES:
        forces = [c for c in curves.forces if c.corner in CORNERS_OF_AXLE[axle]]
        pictures += [force_picture(axle, forces)] if forces else []
    for axle in AXLES:
        travels = [c for c in curves.travels if c.corner in CORNERS_OF_AXLE[axle]]
        pictures += [travel_picture(axle, travels)] if travels else []
    pictures += [spectrum_picture(curve) for curve in curves.spectra]
    pictures += [decay_picture(curve) for curve in curves.decays]
    for axle in AXLES:
        speeds = [c for c in curves.speeds if c.corner in CORNERS_OF_AXLE[axle]]
        pictures += [speed_picture(axle, speeds)] if speeds else []
    return tuple(pictures)


def force_picture(axle: str, curves: Sequence[ForceCurve]) -> Picture:
    """Draw damper force against damper speed, left and right, with 95 % bands.

    Parameters
    ----------
    axle : str
        ``front`` or ``rear``.
    curves : sequence of ForceCurve
        The axle's dampers.
    """

    def draw(rows: Sequence[Axes]) -> None:
        axes = rows[0]
        for curve in curves:
            colour, dash = side_look(curve.corner)
            shown = np.abs(curve.speed_m_per_s) <= FASTEST_SHOWN_M_PER_S
            speed, force = curve.speed_m_per_s[shown], curve.force_n[shown]
            low, high = curve.low_n[shown], curve.high_n[shown]
            axes.fill_between(speed, low, high, color=colour, alpha=0.2, lw=0)
            axes.plot(speed, force, color=colour, ls=dash, label=CORNER_WORDS[curve.corner])
        axes.axhline(0, color=MARK_COLOUR, lw=0.7)
        axes.axvline(0, color=MARK_COLOUR, lw=0.7)
        axes.set(xlabel="rebound  <  damper speed [m/s]  >  bump", ylabel="damper force [N]")
        axes.legend(loc="upper left")

    ends = "; ".join(
        f"{CORNER_WORDS[c.corner]} {c.force_n[0]:.0f} N at {c.speed_m_per_s[0]:.2f} m/s "
        f"to {c.force_n[-1]:.0f} N at {c.speed_m_per_s[-1]:.2f} m/s"
        for c in curves
    )
    return picture(
        title=f"Damper force, {axle}",
        alt=f"Damper force against damper speed, {axle} axle, with 95 % bands: {ends}.",
        draw=draw,
    )


def travel_picture(axle: str, curves: Sequence[TravelCurve]) -> Picture:
    """Draw the share of time at each damper travel with the stops marked.

    Parameters
    ----------
    axle : str
        ``front`` or ``rear``.
    curves : sequence of TravelCurve
        The axle's corners.
    """

    def draw(rows: Sequence[Axes]) -> None:
        axes = rows[0]
        for curve in curves:
            _histogram(axes, curve.corner, curve.bin_edges_mm, curve.share)
        for position_mm, words in _stops(curves):
            axes.axvline(position_mm, color=MARK_COLOUR, ls=":", lw=1.4)
            side = "right" if position_mm > 0 else "left"
            axes.annotate(
                words,
                (position_mm, 0.97),
                xycoords=("data", "axes fraction"),
                xytext=(-4 if position_mm > 0 else 4, 0),
                textcoords="offset points",
                rotation=90,
                ha=side,
                va="top",
            )
        axes.set(xlabel="droop  <  damper travel [mm]  >  bump", ylabel="share of time [%]")
        # Above the axes, clear of the stops' names.
        axes.legend(loc="lower center", ncols=2, bbox_to_anchor=(0.5, 0.97), borderaxespad=0)
        axes.set_ylim(bottom=0)

    stops = "; ".join(f"{words} at {position:.0f} mm" for position, words in _stops(curves))
    return picture(
        title=f"Travel used, {axle}",
        alt=f"Share of time at each damper travel, {axle} axle. Stops: {stops or 'not known'}.",
        draw=draw,
        titled=True,
    )


def _stops(curves: Sequence[TravelCurve]) -> tuple[tuple[float, str], ...]:
    bump = [c.bump_gap_mm for c in curves if c.bump_gap_mm is not None][:1]
    droop = [-c.droop_gap_mm for c in curves if c.droop_gap_mm is not None][:1]
    return (*((x, "bump stop") for x in bump), *((x, "top-out stop") for x in droop))


def _histogram(axes: Axes, corner: str, edges: np.ndarray, share: np.ndarray) -> None:
    used = np.flatnonzero(share > NEGLIGIBLE_SHARE)
    if used.size == 0:
        return
    kept = slice(used[0], used[-1] + 1)
    colour, dash = side_look(corner)
    axes.stairs(
        100 * share[kept],
        edges[used[0] : used[-1] + 2],
        color=colour,
        ls=dash,
        lw=1.5,
        label=CORNER_WORDS[corner],
    )


def speed_picture(axle: str, curves: Sequence[SpeedCurve]) -> Picture:
    """Draw the share of time at each damper speed.

    Parameters
    ----------
    axle : str
        ``front`` or ``rear``.
    curves : sequence of SpeedCurve
        The axle's corners.
    """

    def draw(rows: Sequence[Axes]) -> None:
        axes = rows[0]
        for curve in curves:
            _histogram(axes, curve.corner, curve.bin_edges_m_per_s, curve.share)
        axes.set(xlabel="rebound  <  damper speed [m/s]  >  bump", ylabel="share of time [%]")
        # Standing still is one tall bin; on a plain scale it would flatten the drive.
        axes.set_yscale("log")
        axes.minorticks_off()
        axes.yaxis.set_major_formatter("{x:g}")
        axes.legend(loc="upper right")

    return picture(
        title=f"Damper speeds, {axle}",
        alt=f"Share of time at each damper speed, {axle} axle, left and right.",
        draw=draw,
    )


def spectrum_picture(curve: SpectrumCurve) -> Picture:
    """Draw a measured spectrum with the fitted model over it.

    Parameters
    ----------
    curve : SpectrumCurve
        The spectrum.
    """

    def draw(rows: Sequence[Axes]) -> None:
        axes = rows[0]
        shown = curve.frequency_hz > 0
        frequency_hz = curve.frequency_hz[shown]
        axes.loglog(
            frequency_hz, curve.measured[shown], color=MEASURED_COLOUR, lw=2.2, label="measured"
        )
        if curve.fitted is not None:
            fitted = curve.fitted[shown]
            axes.loglog(frequency_hz, fitted, color=LEFT_COLOUR, lw=1.2, label="fitted car")
        unit = curve.unit.replace("s2", "s\N{SUPERSCRIPT TWO}")
        axes.set(xlabel="frequency [Hz]", ylabel=f"({unit})\N{SUPERSCRIPT TWO}/Hz")
        # Fixed ticks in plain numbers: easier to read than powers, and far quicker to draw.
        axes.minorticks_off()
        ends = (frequency_hz[0], frequency_hz[-1])
        axes.set_xticks([tick for tick in FREQUENCY_TICKS_HZ if ends[0] <= tick <= ends[1]])
        axes.xaxis.set_major_formatter("{x:g}")
        axes.yaxis.set_major_formatter("{x:g}")
        axes.legend(loc="lower left")

    fit = ", with the fitted car over it" if curve.fitted is not None else ""
    return picture(
        title=f"Spectrum: {curve.label}",
        alt=f"Measured power spectral density of {curve.label} against frequency{fit}.",
        draw=draw,
    )


def decay_picture(curve: DecayCurve) -> Picture:
    """Draw one free decay, measured and fitted.

    Parameters
    ----------
    curve : DecayCurve
        The decay.
    """

    def draw(rows: Sequence[Axes]) -> None:
        axes = rows[0]
        axes.plot(
            curve.time_s, curve.measured_m_per_s2, color=MEASURED_COLOUR, lw=2.2, label="measured"
        )
        axes.plot(
            curve.time_s, curve.fitted_m_per_s2, color=LEFT_COLOUR, lw=1.2, label="fitted car"
        )
        axes.set(xlabel="time [s]", ylabel="acceleration [m/s\N{SUPERSCRIPT TWO}]")
        axes.legend(loc="best")

    return picture(
        title=f"Decay after the push: {channel_words(curve.place)}",
        alt=f"Body acceleration after the push at {curve.place}, measured and fitted.",
        draw=draw,
    )


def strip_picture(strips: Sequence[StripCurve], problems: Sequence[Problem]) -> Picture:
    """Draw every channel over the whole log, channels at fault in the second colour.

    Parameters
    ----------
    strips : sequence of StripCurve
        The channels.
    problems : sequence of Problem
        What was found, to mark channels at fault.
    """
    at_fault = {name for p in problems for name in (p.channel, *p.channels) if name}

    def draw(rows: Sequence[Axes]) -> None:
        for axes, strip in zip(rows, strips, strict=True):
            wrong = strip.channel in at_fault
            colour = RIGHT_COLOUR if wrong else LEFT_COLOUR
            axes.fill_between(strip.time_s, strip.low, strip.high, color=colour, lw=0.5)
            mark = "  << see problems" if wrong else ""
            axes.set_title(
                f"{channel_words(strip.channel)} [{strip.unit}]{mark}",
                loc="left",
                fontsize=8,
                pad=2,
            )
            axes.locator_params(axis="y", nbins=3)
            axes.tick_params(axis="x", length=0)
        rows[-1].set_xlabel("time [s]")

    wrong = ", ".join(channel_words(s.channel) for s in strips if s.channel in at_fault)
    return picture(
        title="Every channel over the whole log",
        alt=f"Each channel's range against time. At fault: {wrong or 'none'}.",
        draw=draw,
        rows=len(strips),
        height_in=STRIP_HEIGHT_IN * (len(strips) + 1),
        titled=True,
    )
