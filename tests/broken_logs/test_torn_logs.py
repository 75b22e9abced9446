"""Logs torn, doubled, run together or hit by a power cut: what is whole is read, the rest is named.

Every row is accounted for: those read and those left out are all rows of the file.
"""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.errors import BadRowError, UnknownLayoutError

HEADER = "time_s,travel_fl_mm,body_fl_mps2\n"
ROW_COUNT = 40

TRIED = "tried as text table, gzip, zip, Parquet, MDF 4, GPX, NMEA and serial recording"


def rows() -> list[str]:
    """Forty rows; travel counts the rows, so that a lost one shows."""
    return [f"{0.002 * i:.3f},{i - 20:.1f},{9.5 + 0.01 * i:.2f}\n" for i in range(ROW_COUNT)]


def travel_mm(raw) -> list[float]:
    return np.round(raw.channels["travel_fl"] * 1000, 6).tolist()


def all_but(*lost: int) -> list[float]:
    return [float(i - 20) for i in range(ROW_COUNT) if i not in lost]


@pytest.mark.parametrize(
    "torn",
    ["0.080", "0.080,2", "0.080,20.0,", "0.080,20.0,-", "0.080,20.0,9.", "0.080,20.0,9.8"],
)
def test_a_torn_last_line_is_left_out_and_named(read, torn):
    raw = read(HEADER + "".join(rows()) + torn)
    assert raw.source.rows_skipped == ("line 42 left out: the last line may be cut off",)
    assert raw.source.rows_skipped_count == 1
    assert raw.source.rows_read == ROW_COUNT
    assert travel_mm(raw) == all_but()


def test_a_whole_last_line_without_its_end_is_kept(read):
    raw = read(HEADER + "".join(rows()).rstrip("\n"))
    assert raw.source.rows_skipped == ()
    assert travel_mm(raw) == all_but()


def test_a_last_line_without_its_end_is_left_out_where_its_digits_do_not_prove_it_whole(read):
    whole_numbers = [f"{0.002 * i:.3f},{i - 20:.1f},{980 + i}\n" for i in range(ROW_COUNT)]
    as_many_digits_as_needed = [
        f"{0.002 * i:.3f},{i - 20:.1f},{9 + i / 8}\n" for i in range(ROW_COUNT)
    ]
    for lines in (whole_numbers, as_many_digits_as_needed):
        raw = read(HEADER + "".join(lines).rstrip("\n"))
        assert raw.source.rows_skipped == ("line 41 left out: the last line may be cut off",)
        assert travel_mm(raw) == all_but(ROW_COUNT - 1)


def test_a_torn_last_number_is_left_out_though_remarks_stand_between_the_rows(read):
    lines = rows()
    lines.insert(20, "# stopped for a photo\n")
    raw = read(HEADER + "".join(lines) + "0.080,20.0,9.8")
    assert "line 43 left out: the last line may be cut off" in raw.source.rows_skipped
    assert travel_mm(raw) == all_but()
    assert read(HEADER + "".join(lines).rstrip("\n")).source.rows_read == ROW_COUNT


def test_a_line_torn_in_the_middle_is_left_out_and_named(read):
    lines = rows()
    lines[10] = "0.020,-1\n"
    raw = read(HEADER + "".join(lines))
    assert raw.source.rows_skipped == (
        "line 12 left out: fewer than 3 cells, the line looks cut off",
    )
    assert raw.source.rows_read + raw.source.rows_skipped_count == ROW_COUNT
    assert travel_mm(raw) == all_but(10)


def test_two_lines_run_together_are_left_out_and_named(read):
    lines = rows()
    lines[10] = lines[10].rstrip("\n")
    raw = read(HEADER + "".join(lines))
    assert raw.source.rows_skipped == (
        "line 12 left out: more than 3 cells, two lines may have run together",
    )
    assert travel_mm(raw) == all_but(10, 11)


def test_a_torn_line_that_swallowed_the_next_line_end_does_not_cancel_out(read):
    lines = rows()
    lines[10] = "0.020,-10.0\n"
    lines[20] = lines[20].replace("\n", ",7\n")
    raw = read(HEADER + "".join(lines))
    assert raw.source.rows_skipped_count == 2
    assert travel_mm(raw) == all_but(10, 20)


def test_the_same_where_most_columns_are_not_needed(read):
    lines = [row.replace("\n", ",1,2,3,4\n") for row in rows()]
    lines[10] = "0.020,-10.0,9.60,1,2,3\n"
    lines[20] = lines[20].replace("\n", ",5\n")
    raw = read(HEADER.replace("\n", ",a,b,c,d\n") + "".join(lines))
    assert raw.source.rows_skipped_count == 2
    assert travel_mm(raw) == all_but(10, 20)


def test_a_header_repeated_where_the_logger_restarted_is_left_out(read):
    lines = rows()
    raw = read(HEADER + "".join(lines[:25]) + HEADER + "".join(lines[25:]))
    assert raw.source.rows_skipped == ("line 27 left out: the header again",)
    assert travel_mm(raw) == all_but()


def test_remarks_between_rows_are_left_out(read):
    lines = rows()
    raw = read(HEADER + "".join(lines[:5]) + "# bump\n# another\n" + "".join(lines[5:]))
    assert raw.source.rows_skipped == ("lines 7, 8 left out: a remark",)
    assert travel_mm(raw) == all_but()


def test_zero_bytes_from_a_power_cut_cost_only_their_rows(read):
    lines = rows()
    lines[30] = "0.06" + "\0" * 200 + "\n"
    raw = read(HEADER + "".join(lines))
    assert raw.source.rows_skipped == ("line 32 left out: zero bytes, as after a power cut",)
    assert travel_mm(raw) == all_but(30)


def test_a_file_padded_with_zero_bytes_keeps_all_rows(read):
    raw = read(HEADER + "".join(rows()) + "\0" * 5000)
    assert travel_mm(raw) == all_but()
    assert raw.source.rows_skipped_count == 1


def test_rows_that_end_early_by_habit_have_empty_cells_at_the_end(read):
    lines = [
        line if i % 5 == 0 else line.rpartition(",")[0] + "\n" for i, line in enumerate(rows())
    ]
    lines[-1] = rows()[-1]
    raw = read(HEADER + "".join(lines))
    assert travel_mm(raw) == all_but()
    assert np.isnan(raw.channels["body_fl"]).sum() == 31
    assert raw.source.remarks == ("31 rows end early; their missing cells are taken as empty",)


def test_many_lost_lines_are_told_in_one_sentence(read):
    lines = [line if i % 30 else "0.1,2\n" for i, line in enumerate(rows() * 20)]
    raw = read(HEADER + "".join(lines))
    assert raw.source.rows_skipped_count == 27
    assert raw.source.rows_read == 773
    assert raw.source.rows_skipped == (
        "lines 2, 32, 62, 92, 122, 152, 182, 212 and 19 more left out: fewer than 3 cells,"
        " the line looks cut off",
    )


def test_text_in_a_used_column_names_line_and_column(read):
    lines = rows()
    lines[17] = "0.034,ERR,9.7\n"
    with pytest.raises(BadRowError) as error:
        read(HEADER + "".join(lines))
    assert error.value.line == 19
    assert str(error.value) == (
        'drive.csv: line 19: column "travel_fl_mm" holds "ERR" where a number belongs; leave the'
        " cell empty if there was no reading"
    )


def test_a_stray_decimal_comma_is_named(read):
    lines = [row.replace(",", ";") for row in rows()]
    lines[17] = "0.034;1,5;9.7\n"
    with pytest.raises(BadRowError) as error:
        read(HEADER.replace(",", ";") + "".join(lines))
    assert error.value.line == 19
    assert 'holds "1,5" where a number belongs' in str(error.value)


def test_a_torn_line_is_named_by_its_line_past_blank_ones(read):
    raw = read(HEADER + "\n".join(rows()) + "0.080,2")
    assert raw.source.rows_skipped == ("line 81 left out: the last line may be cut off",)
    assert travel_mm(raw) == all_but()


def test_cells_of_blanks_far_down_are_missing(read):
    lines = rows() * 50
    lines[1500] = "0.034, ,9.7\n"
    raw = read(HEADER + "".join(lines))
    assert np.flatnonzero(np.isnan(raw.channels["travel_fl"])).tolist() == [1500]


def test_text_far_down_a_long_log_is_named_by_its_line(read):
    lines = rows() * 2500
    lines[90_000] = "0.034,1..2,9.7\n"
    with pytest.raises(BadRowError) as error:
        read(HEADER + "".join(lines))
    assert error.value.line == 90_002


def test_a_long_log_of_several_pieces_keeps_every_row(read):
    count = 100_000
    text = "".join(f"{i * 0.002:.3f},{i / 1000:.3f}\n" for i in range(count))
    raw = read("time_s,travel_fl_mm\n" + text)
    assert raw.source.rows_read == count
    np.testing.assert_allclose(raw.channels["travel_fl"] * 1e6, np.arange(count), atol=1e-6)


def test_rows_that_get_much_shorter_do_not_outgrow_the_room_made_for_them(read):
    wordy = "".join(f"{i:.60f},{i:.60f}\n" for i in range(33_000))
    terse = "".join(f"{i},{i}\n" for i in range(33_000, 240_000))
    raw = read("time_s,travel_fl_mm\n" + wordy + terse)
    np.testing.assert_array_equal(raw.time_s, np.arange(240_000))
    np.testing.assert_allclose(raw.channels["travel_fl"] * 1000, np.arange(240_000), rtol=1e-12)


def test_a_damaged_byte_in_an_unused_column_does_no_harm(read):
    text = HEADER.replace("\n", ",note\n") + "".join(r.replace("\n", ",ok\n") for r in rows())
    raw = read(text.encode().replace(b",ok", b",\xff\xfe", 1))
    assert travel_mm(raw) == all_but()


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "drive.csv: is empty; record again, or check how it was copied"),
        (b"\r\n \n", "drive.csv: is empty; record again, or check how it was copied"),
        (b"\0" * 4096, "drive.csv: is empty; record again, or check how it was copied"),
        (
            HEADER.encode(),
            f"drive.csv: holds no row of numbers ({TRIED}); its last line reads"
            ' "time_s,travel_fl_mm,body_fl_mps2"',
        ),
        (b"# nothing\n", "drive.csv: holds no rows, only remarks; record again"),
        (
            bytes(range(256)) * 40,
            f"drive.csv: is not a text file ({TRIED}); export the log as CSV text",
        ),
        (
            b"\x1f\x8b\x08\x00broken",
            "drive.csv: the packed file is damaged (Compressed file ended before the"
            " end-of-stream marker was reached); copy or pack it again",
        ),
        (
            b"PK\x03\x04broken",
            "drive.csv: the packed file is damaged (File is not a zip file); copy or pack it again",
        ),
        (
            b"Dear diary,\nthe car was fine today.\n",
            f"drive.csv: holds no row of numbers ({TRIED}); its last line reads"
            ' "the car was fine today."',
        ),
    ],
    ids=["empty", "blank", "zeros", "header", "remarks", "binary", "gzip", "zip", "prose"],
)
def test_what_is_no_log_is_refused_in_one_line(read, content, message):
    from ridelog.errors import LogError

    with pytest.raises(LogError) as error:
        read(content)
    assert str(error.value) == message


def test_nothing_but_torn_lines_is_no_log(read):
    with pytest.raises(UnknownLayoutError):
        read("time_s,travel_fl_mm\n0.0\n0.002\n0.004\n")


def test_a_packed_log_that_swells_without_end_is_refused(read, monkeypatch):
    import gzip

    from ridelog.errors import LogError
    from ridelog.ingest import open_log

    monkeypatch.setattr(open_log, "LARGEST_UNPACKED_BYTES", 3 << 20)
    with pytest.raises(LogError) as error:
        read(gzip.compress(b"0" * (5 << 20)), name="bomb.csv.gz")
    assert str(error.value) == (
        "bomb.csv.gz: unpacks to more than 3 MiB; cut the log into shorter drives"
    )


def test_missing_file_and_folder(tmp_path):
    from ridelog.car.description import Logger
    from ridelog.errors import LogError
    from ridelog.ingest.read import read_log

    with pytest.raises(LogError) as error:
        read_log(tmp_path / "nothing.csv", Logger())
    assert str(error.value) == f"nothing.csv: no such file in {tmp_path.resolve()}"
    with pytest.raises(LogError) as error:
        read_log(tmp_path, Logger())
    assert str(error.value) == f"{tmp_path.name}: is a folder; name the log file in it"
