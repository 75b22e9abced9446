"""The drawing board: one small SVG per picture, in one look; the only place with matplotlib."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes as Axes
from matplotlib.figure import Figure

WIDTH_IN = 3.9
HEIGHT_IN = 2.6
"""Drawn about as wide as a phone shows them, so that the lettering keeps its size there."""

LEFT_IN, RIGHT_IN, BOTTOM_IN, TOP_IN = 0.74, 0.12, 0.46, 0.1
"""Margins for lettering: fixed, because measuring the lettering costs as much as drawing."""

TITLE_IN = 0.25
ROW_GAP_RATIO, TITLED_GAP_RATIO = 0.22, 0.85
"""Gap between rows over the height of a row."""

STYLE = {
    "font.size": 9.0,
    "font.family": "sans-serif",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.7,
    "axes.grid": True,
    "axes.axisbelow": True,
    "axes.formatter.limits": (-4, 5),
    "grid.color": "#dfe2e6",
    "grid.linewidth": 0.6,
    "legend.frameon": False,
    "legend.fontsize": 8.5,
    "xtick.labelsize": 8.5,
    "ytick.labelsize": 8.5,
    "svg.fonttype": "none",  # text stays text: small, sharp, searchable
}

LEFT_COLOUR = "#0d4f8b"
RIGHT_COLOUR = "#d9780f"
MEASURED_COLOUR = "#8b939c"
MARK_COLOUR = "#1b1f24"
"""Left and right differ in hue, lightness and dash, measured and marks in lightness."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One picture: `source` is an SVG data address, `alt` says in words what it shows."""

    title: str
    alt: str
    source: str


def picture(
    *,
    title: str,
    alt: str,
    draw: Callable[[Sequence[Axes]], None],
    rows: int = 1,
    height_in: float = HEIGHT_IN,
    titled: bool = False,
) -> Picture:
    """Make one picture.

    Parameters
    ----------
    title : str
        Heading over the picture.
    alt : str
        What it shows, in words.
    draw : callable
        Gets the axes, top row first, and draws on them.
    rows : int
        Number of axes above each other, sharing the horizontal one [1].
    height_in : float
        Height of the whole picture [in].
    titled : bool
        Whether each row has a title of its own and needs room for it.
    """
    style: Any = {**STYLE, "svg.hashsalt": title}
    with mpl.rc_context(style):
        figure = Figure(figsize=(WIDTH_IN, height_in))
        axes = figure.subplots(rows, 1, sharex=True, squeeze=False)[:, 0]
        figure.subplots_adjust(
            left=LEFT_IN / WIDTH_IN,
            right=1 - RIGHT_IN / WIDTH_IN,
            bottom=BOTTOM_IN / height_in,
            top=1 - (TITLE_IN if titled else TOP_IN) / height_in,
            hspace=TITLED_GAP_RATIO if titled else ROW_GAP_RATIO,
        )
        draw(list(axes))
        data = io.BytesIO()
        figure.savefig(data, format="svg", metadata={"Date": None, "Creator": None})
    address = base64.b64encode(data.getvalue()).decode("ascii")
    return Picture(title=title, alt=alt, source=f"data:image/svg+xml;base64,{address}")


def side_look(corner: str) -> tuple[str, str]:
    """Colour and dash of a corner's line: left solid blue, right dashed orange.

    Parameters
    ----------
    corner : str
        ``fl``, ``fr``, ``rl`` or ``rr``.
    """
    return (LEFT_COLOUR, "-") if corner.endswith("l") else (RIGHT_COLOUR, "--")
