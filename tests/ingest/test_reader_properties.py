"""Whatever happens to a file, the outcome is a sound recording or one plain sentence."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridelog.car.description import ChannelMapping, Logger
from ridelog.errors import RidelogError
from ridelog.ingest.read import read_log

ROWS = "".join(f"{0.002 * i:.3f},{(-1) ** i * i / 7:.3f},{9.8 + i / 50:.2f}\n" for i in range(30))
LOG = ("time_s,travel_fl_mm,body_fl_mps2\n" + ROWS).encode()
SEMICOLONS = LOG.replace(b",", b";").replace(b".", b",")
BLANKS = LOG.replace(b",", b"  ")
SLOW_MACHINE = settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)

places = st.integers(0, len(LOG))
pieces = st.one_of(
    st.binary(max_size=12),
    st.sampled_from([b"\n", b",", b";", b'"', b"\0", b"\r", b"#", b"nan", b"-", b"e9", b"\xff"]),
    st.just(LOG[:60]),
)
damage = st.lists(st.tuples(places, st.integers(0, 40), pieces), min_size=1, max_size=4)


def damaged(content: bytes, changes) -> bytes:
    for place, length, piece in changes:
        content = content[:place] + piece + content[place + length :]
    return content


def outcome(content: bytes, logger: Logger | None = None):
    """Read a file; a recording or an error's message comes back, anything else is a bug."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drive.csv"
        path.write_bytes(content)
        try:
            return read_log(path, logger or Logger())
        except RidelogError as error:
            return str(error)


def check(result) -> None:
    if isinstance(result, str):
        assert result.startswith("drive.csv: ")
        assert "\n" not in result
        assert "\0" not in result
        assert len(result) < 1000
        return
    assert result.channels
    for values in (result.time_s, *result.channels.values()):
        assert values.dtype == np.float64
        assert values.shape == (result.source.rows_read,)
        assert not np.isinf(values).any()
    assert result.source.rows_skipped_count >= len(result.source.rows_skipped)


@SLOW_MACHINE
@given(changes=damage, base=st.sampled_from([LOG, SEMICOLONS, BLANKS]))
def test_a_damaged_log_is_read_or_refused_plainly(changes, base):
    check(outcome(damaged(base, changes)))


@SLOW_MACHINE
@given(content=st.binary(max_size=400))
def test_any_bytes_are_refused_or_read_plainly(content):
    check(outcome(content))


@SLOW_MACHINE
@given(content=st.text(alphabet="0123456789.,;:-+eEnatime_s \t\n\r\"'#|()[]g", max_size=200))
def test_any_text_of_table_characters_is_refused_or_read_plainly(content):
    logger = Logger(sample_rate_hz=100.0, channels={"cabin": ChannelMapping(column="1", unit="g")})
    check(outcome(content.encode(), logger))
    check(outcome(content.encode()))


@SLOW_MACHINE
@given(cut=st.integers(len(b"time_s,travel_fl_mm,body_fl_mps2\n0.000,"), len(LOG)))
def test_a_log_cut_anywhere_keeps_every_whole_row(cut):
    result = outcome(LOG[:cut])
    whole = LOG[:cut].count(b"\n") - 1
    if whole == 0:
        return
    assert not isinstance(result, str), result
    assert result.source.rows_read in (whole, whole + 1)
    torn = cut < len(LOG) and LOG[cut - 1 : cut] != b"\n"
    assert result.source.rows_read + result.source.rows_skipped_count == whole + torn
    reference = outcome(LOG)
    for name, values in result.channels.items():
        np.testing.assert_array_equal(values[:whole], reference.channels[name][:whole])


@SLOW_MACHINE
@given(
    values=st.lists(
        st.one_of(
            st.none(), st.floats(-1e6, 1e6, allow_nan=False).map(lambda x: float(f"{x:.6g}"))
        ),
        min_size=2,
        max_size=30,
    ),
    delimiter=st.sampled_from([",", ";", "\t", "|"]),
    comma=st.booleans(),
    end=st.sampled_from(["\n", "\r\n"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]),
)
def test_numbers_written_come_back(values, delimiter, comma, end, encoding):
    def cell(value) -> str:
        text = "" if value is None else f"{value:.6f}"
        return text.replace(".", ",") if comma and delimiter != "," else text

    header = delimiter.join(["time_s", "travel_fl_mm", "speed_mps"])
    rows = [delimiter.join([cell(i * 0.01), cell(v), cell(1.5)]) for i, v in enumerate(values)]
    result = outcome((end.join([header, *rows]) + end).encode(encoding))
    assert not isinstance(result, str), result
    expected = [np.nan if v is None else float(f"{v:.6f}") / 1000 for v in values]
    np.testing.assert_allclose(result.channels["travel_fl"], expected, rtol=1e-12, atol=1e-15)
    assert result.source.rows_read == len(values)


@pytest.mark.parametrize("base", [LOG, SEMICOLONS, BLANKS], ids=["commas", "semicolons", "blanks"])
def test_the_undamaged_log_reads(base):
    result = outcome(base)
    assert not isinstance(result, str)
    assert result.source.rows_read == 30
