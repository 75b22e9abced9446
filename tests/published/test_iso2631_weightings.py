"""Frequency weightings against the printed tables of ISO 2631-1, from two independent copies."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from ridelog.estimate.weighting import weight, weighting_response

DATA = Path(__file__).parent / "data"
TABLE = pd.read_csv(DATA / "iso2631_weightings.csv", comment="#")
OPEN_COLUMNS = {
    "Wk": ("vertical_acceleration_z", 0.0035),
    "Wd": ("translational_acceleration_xy", 0.007),
    "Wf": ("motion_sickness_z", 0.01),
}


@pytest.mark.parametrize(
    "row",
    list(TABLE.itertuples()),
    ids=[f"{r.weighting} {r.frequency_hz} Hz" for r in TABLE.itertuples()],
)
def test_factor_of_the_standards_table(row):
    factor = abs(weighting_response(row.weighting, row.frequency_hz))
    assert factor * 1000 == pytest.approx(row.factor_x1000, rel=row.tolerance)


@pytest.mark.parametrize("name", OPEN_COLUMNS)
def test_factor_of_an_open_copy_of_the_table(name):
    column, tolerance = OPEN_COLUMNS[name]
    table = pd.read_csv(DATA / "open_weighting_table.csv")
    table = table[(table[column] > 0.05) & table[column].notna()]
    if name == "Wd":  # two slips of the copy, see its SOURCE note
        slips = np.isclose(table.frequency_hz, 10.0) | np.isclose(table.frequency_hz, 2.0)
        table = table[~slips]
    assert len(table) > 20
    factors = abs(weighting_response(name, table.frequency_hz.to_numpy())) * 1000
    np.testing.assert_allclose(factors, table[column], rtol=tolerance)


@pytest.mark.parametrize("sample_rate_hz", [200.0, 500.0])
def test_a_weighted_tone_has_the_tables_size_at_any_log_rate(sample_rate_hz):
    # 63 Hz, where a bilinear filter at 200 Hz would read less than half
    time = np.arange(int(60 * sample_rate_hz)) / sample_rate_hz
    weighted = weight(np.sqrt(2) * np.sin(2 * np.pi * 63.0 * time), sample_rate_hz)
    middle = weighted[len(weighted) // 4 : -len(weighted) // 4]
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.186, rel=0.004)


def test_a_low_tone_comes_through_horizontal_weighting_by_the_table():
    time = np.arange(60_000) / 1000.0
    weighted = weight(np.sqrt(2) * np.sin(2 * np.pi * 4.0 * time), 1000.0, "Wd")
    middle = weighted[15_000:45_000]
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.512, rel=0.003)


def test_an_unknown_weighting_is_named_with_the_known_ones():
    with pytest.raises(ValueError, match=r"'Wx' is not known; use one of Wk, Wd, Wf"):
        weighting_response("Wx", 1.0)
