"""Road classes against the table of ISO 8608:2016."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from ridelog.estimate.road import road_class

TABLE = pd.read_csv(Path(__file__).parent / "data" / "iso8608_classes.csv", comment="#")


@pytest.mark.parametrize("row", list(TABLE.itertuples()), ids=list(TABLE["class"]))
def test_geometric_mean_lies_in_its_class(row):
    assert road_class(row.geometric_mean * 1e-6) == TABLE["class"][row.Index]


@pytest.mark.parametrize("index", range(7), ids=list(TABLE["class"][:7]))
def test_upper_limit_parts_a_class_from_the_next(index):
    upper = TABLE.upper[index] * 1e-6
    assert road_class(upper * 0.999) == TABLE["class"][index]
    assert road_class(upper * 1.001) == TABLE["class"][index + 1]


def test_the_standards_example_boundary():
    assert road_class(100e-6) == "B"
