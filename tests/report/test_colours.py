"""Can everybody tell the lines apart, and read the lettering?

Colour-blind sight is simulated with the matrices of Machado, Oliveira & Fernandes, A
Physiologically-based Model for Simulation of Color Vision Deficiency, IEEE TVCG 15(6), 2009,
severity 1.0 (from memory), applied to linear RGB; distances are CIE 1976 Lab, in which about 2.3
is the smallest step people notice. Contrast is WCAG 2.1's, success criterion 1.4.3 (4.5 for text)
and 1.4.11 (3 for graphics).
"""

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

import ridelog.report
from ridelog.report.plots import (
    LEFT_COLOUR,
    MARK_COLOUR,
    MEASURED_COLOUR,
    RIGHT_COLOUR,
    side_look,
)

SIGHTS = {
    "usual": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
# sRGB primaries to CIE XYZ and its white, IEC 61966-2-1.
TO_XYZ = np.array(
    [
        [0.4124, 0.3576, 0.1805],
        [0.2126, 0.7152, 0.0722],
        [0.0193, 0.1192, 0.9505],
    ]
)
WHITE_XYZ = TO_XYZ.sum(axis=1)
CLEARLY_APART = 25.0  # ten noticeable steps
PICTURE_COLOURS = (LEFT_COLOUR, RIGHT_COLOUR, MEASURED_COLOUR, MARK_COLOUR)
PAIRS = tuple(combinations(PICTURE_COLOURS, 2))


def linear_rgb(colour):
    values = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def lab(colour, sight):
    xyz = TO_XYZ @ np.clip(SIGHTS[sight] @ linear_rgb(colour), 0, 1) / WHITE_XYZ
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def contrast_with_white(colour):
    return 1.05 / (TO_XYZ[1] @ linear_rgb(colour) + 0.05)


def test_lab_of_known_colours():
    # White is 100, 0, 0 by definition; sRGB red is 53.2, 80.1, 67.2 in every colour table.
    assert lab("#ffffff", "usual") == pytest.approx([100, 0, 0], abs=0.01)
    assert lab("#ff0000", "usual") == pytest.approx([53.2, 80.1, 67.2], abs=0.1)


def test_contrast_of_a_known_colour():
    # #767676 is the well-known lightest grey with 4.54:1 on white.
    assert contrast_with_white("#767676") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("sight", SIGHTS)
@pytest.mark.parametrize("pair", PAIRS, ids=" ".join)
def test_lines_differ_for_every_sight(pair, sight):
    first, second = (lab(colour, sight) for colour in pair)
    assert np.linalg.norm(first - second) > CLEARLY_APART


def test_left_and_right_differ_without_any_colour():
    assert abs(lab(LEFT_COLOUR, "usual")[0] - lab(RIGHT_COLOUR, "usual")[0]) > CLEARLY_APART
    assert side_look("fl")[1] != side_look("fr")[1]


@pytest.mark.parametrize("colour", PICTURE_COLOURS)
def test_lines_stand_out_from_the_paper(colour):
    assert contrast_with_white(colour) >= 3.0


@pytest.mark.parametrize("name", ["ink", "faint", "key"])
def test_lettering_is_readable(name):
    css = (Path(ridelog.report.__file__).parent / "templates" / "page.css").read_text("utf-8")
    colour = re.search(rf"--{name}: (#[0-9a-f]{{6}})", css).group(1)
    assert contrast_with_white(colour) >= 4.5
