"""One log in every layout that loggers and spreadsheets write; the numbers must not change."""

from __future__ import annotations

import codecs
import gzip
import io
import zipfile

import numpy as np
import pytest

from ridelog.car.description import ChannelMapping, Logger
from ridelog.errors import LogError, UnknownLayoutError

HEADER = ("time_s", "travel_fl_mm", "body_fl_mps2")
MAPPED = Logger(
    channels={
        "travel_fl": ChannelMapping(column="Damper", unit="mm"),
        "body_fl": ChannelMapping(column="Acc Z", unit="m/s^2"),
    }
)


def head(delimiter: str = ",") -> str:
    return delimiter.join(HEADER) + "\n"


def plain(small):
    return head() + small.rows(), Logger()


def no_line_end_at_the_end(small):
    return (head() + small.rows()).rstrip("\n"), Logger()


def windows_line_ends(small):
    return head().replace("\n", "\r\n") + small.rows(end="\r\n"), Logger()


def old_line_ends(small):
    return head().replace("\n", "\r") + small.rows(end="\r"), Logger()


def blank_lines_between(small):
    return head() + "\n" + small.rows(end="\n\n") + "\n\n", Logger()


def columns_in_another_order(small):
    lines = [",".join(reversed(line.split(","))) for line in small.rows().splitlines()]
    return "body_fl_mps2,travel_fl_mm,time_s\n" + "\n".join(lines) + "\n", Logger()


def capitals_and_blanks_in_the_header(small):
    return " Time_S , Travel_FL_mm , BODY_FL_mps2 \n" + small.rows(), Logger()


def semicolons(small):
    return head(";") + small.rows(delimiter=";"), Logger()


def semicolons_and_decimal_commas(small):
    return head(";") + small.rows(delimiter=";", decimal=","), Logger()


def tabs(small):
    return head("\t") + small.rows(delimiter="\t"), Logger()


def tabs_and_decimal_commas(small):
    return head("\t") + small.rows(delimiter="\t", decimal=","), Logger()


def bars(small):
    return head("|") + small.rows(delimiter="|"), Logger()


def blanks(small):
    lines = ["   " + line for line in small.rows(delimiter="   ").splitlines()]
    return head("  ") + "\n".join(lines) + "\n", Logger()


def blanks_after_commas(small):
    return head(", ") + small.rows(delimiter=", "), Logger()


def quoted_header(small):
    return ",".join(f'"{name}"' for name in HEADER) + "\n" + small.rows(), Logger()


def everything_quoted(small):
    lines = ['"' + line.replace(",", '","') + '"' for line in small.rows().splitlines()]
    return ",".join(f'"{name}"' for name in HEADER) + "\n" + "\n".join(lines) + "\n", Logger()


def quoted_decimal_commas(small):
    rows = small.rows(delimiter=";", decimal=",").splitlines()
    lines = ['"' + line.replace(";", '","') + '"' for line in rows]
    return head() + "\n".join(lines) + "\n", Logger()


def byte_order_mark(small):
    return codecs.BOM_UTF8 + (head() + small.rows()).encode(), Logger()


def utf_16(small):
    return (head() + small.rows()).encode("utf-16"), Logger()


def utf_16_without_a_mark(small):
    return (head() + small.rows()).encode("utf-16-le"), Logger()


def western_one_byte_encoding(small):
    text = "temp (°C)," + head() + "".join(f"21,{line}\n" for line in small.rows().splitlines())
    return text.encode("latin-1"), Logger()


def remarks_above(small):
    return "# my logger, firmware 3\n% left\n// right\n" + head() + small.rows(), Logger()


def header_in_a_remark(small):
    return "# " + head() + small.rows(), Logger()


def preamble(small):
    top = "Header size: 4\nSampling rate: 500\nStarted: 2026-05-02, 10:00\n\n"
    return top + head() + small.rows(), Logger()


def long_preamble(small):
    top = "".join(f"note {i}: this logger talks a lot before it starts\n" for i in range(600))
    return top + head() + small.rows(), Logger()


def unit_row(small):
    return "Time,Damper,Acc Z\ns,mm,m/s^2\n" + small.rows(), Logger(
        channels={
            "travel_fl": ChannelMapping(column="Damper"),
            "body_fl": ChannelMapping(column="Acc Z"),
        }
    )


def unit_row_in_brackets(small):
    return "Time,Damper,Acc Z\n[s],[mm],[m/s^2]\n" + small.rows(), Logger(
        channels={
            "travel_fl": ChannelMapping(column="Damper"),
            "body_fl": ChannelMapping(column="Acc Z"),
        }
    )


def units_in_the_header(small):
    return "Time (s),Damper [mm],Acc Z (m/s²)\n" + small.rows(), Logger(
        channels={
            "travel_fl": ChannelMapping(column="Damper [mm]"),
            "body_fl": ChannelMapping(column="Acc Z (m/s²)"),
        }
    )


def trailing_delimiter(small):
    return head() + small.rows().replace("\n", ",\n"), Logger()


def trailing_delimiter_in_the_header_too(small):
    return (head() + small.rows()).replace("\n", ",\n"), Logger()


def mapped_columns(small):
    return "time_s,Damper,Acc Z\n" + small.rows(), MAPPED


def no_header(small):
    return small.rows(), Logger(
        time_column="1",
        time_unit="s",
        channels={
            "travel_fl": ChannelMapping(column="2", unit="mm"),
            "body_fl": ChannelMapping(column="3", unit="m/s^2"),
        },
    )


def text_in_columns_nobody_needs(small):
    rows = [f"lap {i},{row},3 / 19" for i, row in enumerate(small.rows().splitlines())]
    return "lap," + ",".join(HEADER) + ",satellites\n" + "\n".join(rows) + "\n", Logger()


def delimiters_inside_quoted_text(small):
    rows = [f'{row},"left, then right"' for row in small.rows().splitlines()]
    return ",".join(HEADER) + ",note\n" + "\n".join(rows) + "\n", Logger()


def an_empty_column(small):
    return head().replace("\n", ",spare\n") + small.rows().replace("\n", ",\n"), Logger()


def a_twin_of_an_unused_column(small):
    rows = small.rows().replace("\n", ",1,2\n")
    return ",".join(HEADER) + ",temp,temp\n" + rows, Logger()


def mapping_for_another_logger(small):
    return head() + small.rows(), MAPPED


SCENARIOS = [
    plain,
    no_line_end_at_the_end,
    windows_line_ends,
    old_line_ends,
    blank_lines_between,
    columns_in_another_order,
    capitals_and_blanks_in_the_header,
    semicolons,
    semicolons_and_decimal_commas,
    tabs,
    tabs_and_decimal_commas,
    bars,
    blanks,
    blanks_after_commas,
    quoted_header,
    everything_quoted,
    quoted_decimal_commas,
    byte_order_mark,
    utf_16,
    utf_16_without_a_mark,
    western_one_byte_encoding,
    remarks_above,
    header_in_a_remark,
    preamble,
    long_preamble,
    unit_row,
    unit_row_in_brackets,
    units_in_the_header,
    trailing_delimiter,
    trailing_delimiter_in_the_header_too,
    mapped_columns,
    no_header,
    text_in_columns_nobody_needs,
    delimiters_inside_quoted_text,
    an_empty_column,
    a_twin_of_an_unused_column,
    mapping_for_another_logger,
]


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda scenario: scenario.__name__)
def test_the_same_numbers_come_out_of_every_layout(scenario, small, read):
    content, logger = scenario(small)
    small.check(read(content, logger))


def test_a_log_packed_with_gzip(small, read):
    small.check(read(gzip.compress((head() + small.rows()).encode()), name="drive.csv.gz"))


def test_a_packed_log_is_known_by_its_bytes_not_its_name(small, read):
    small.check(read(gzip.compress((head() + small.rows()).encode()), name="drive.csv"))


def test_a_log_packed_with_zip(small, read):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("drive.csv", head() + small.rows())
    small.check(read(packed.getvalue(), name="drive.zip"))


def test_an_archive_of_two_logs_is_refused(read):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("a.csv", head())
        archive.writestr("b.csv", head())
    with pytest.raises(LogError) as error:
        read(packed.getvalue(), name="drive.zip")
    assert str(error.value) == (
        "drive.zip: holds 2 files (a.csv, b.csv); pack one log in one archive"
    )


def test_missing_cells_are_nan_and_keep_their_place(read):
    raw = read("time_s,travel_fl_mm\n0.0,1.5\n0.002,\n0.004,nan\n0.006,-\n0.008,-2.5\n")
    np.testing.assert_array_equal(
        raw.channels["travel_fl"], [0.0015, np.nan, np.nan, np.nan, -0.0025]
    )


def test_doubled_and_backward_stamps_are_kept_as_recorded(read):
    raw = read("time_s,travel_fl_mm\n0.0,1\n0.002,2\n0.002,3\n0.001,4\n0.004,5\n")
    np.testing.assert_array_equal(raw.time_s, [0.0, 0.002, 0.002, 0.001, 0.004])


def test_g_and_miles_per_hour_become_si(read):
    # 1 g = 9.80665 m/s2 and 1 mph = 0.44704 m/s: NIST SP 811 (2008), B.8, both exact.
    raw = read("time_s,body_fl_g,speed_mph\n0,1.0,10\n0.002,-0.5,0\n")
    np.testing.assert_allclose(raw.channels["body_fl"], [9.80665, -4.903325], rtol=1e-15)
    np.testing.assert_allclose(raw.channels["speed"], [4.4704, 0], rtol=1e-15)
    assert raw.units == {"body_fl": "g", "speed": "mph"}


def test_infinite_readings_are_no_readings(read):
    raw = read("time_s,body_fl_g\n0,inf\n0.002,1\n")
    np.testing.assert_array_equal(np.isnan(raw.channels["body_fl"]), [True, False])


def test_no_known_column_names_what_is_there_and_what_to_write(read):
    with pytest.raises(UnknownLayoutError) as error:
        read("time_s,az1 (g),volts\n0,1,2\n0.002,1,2\n")
    assert str(error.value) == (
        'drive.csv: no known channel among its columns ("time_s", "az1 (g)", "volts"); name them'
        ' in the car file, such as [logger.channels] body_fl = { column = "az1 (g)", unit = "g" }'
    )


def test_an_absent_mapped_column_names_the_nearest(read):
    logger = Logger(
        channels={
            "travel_fl": ChannelMapping(column="Damper", unit="mm"),
            "body_fl": ChannelMapping(column="Acc Y", unit="g"),
        }
    )
    with pytest.raises(LogError) as error:
        read("time_s,Damper,Acc Z,other\n0,1,2,3\n0.002,1,2,3\n", logger)
    assert type(error.value) is LogError
    assert str(error.value) == (
        'drive.csv: no column "Acc Y" (logger.channels.body_fl in the car file); nearest are'
        ' "Acc Z"'
    )


def test_a_file_with_none_of_the_mapped_columns_is_another_layout(read):
    with pytest.raises(UnknownLayoutError, match='no column "Damper"'):
        read("time_s,latitude,longitude\n0,1,2\n1,1,2\n", MAPPED)


def test_two_columns_for_one_channel_are_refused(read):
    with pytest.raises(LogError) as error:
        read("time_s,body_fl_g,body_fl_mps2\n0,1,9.8\n0.002,1,9.8\n")
    assert str(error.value) == (
        'drive.csv: columns "body_fl_g" and "body_fl_mps2" are both body_fl; remove one, or name'
        " the one to use under [logger.channels] in the car file"
    )


def test_the_car_file_settles_which_of_two_columns_counts(read):
    logger = Logger(channels={"body_fl": ChannelMapping(column="body_fl_g", unit="g")})
    raw = read("time_s,body_fl_g,body_fl_mps2\n0,1,9\n0.002,1,9\n", logger)
    np.testing.assert_allclose(raw.channels["body_fl"], 9.80665)


def test_a_doubled_name_that_is_needed_is_refused(read):
    with pytest.raises(LogError) as error:
        read(
            "time_s,az,az\n0,1,2\n0.002,1,2\n",
            Logger(channels={"body_fl": ChannelMapping(column="az", unit="g")}),
        )
    assert str(error.value) == (
        'drive.csv: column "az" stands 2 times in the header; name it by its number'
    )


def test_a_mapped_column_without_any_unit_is_refused(read):
    with pytest.raises(LogError) as error:
        read(
            "time_s,az\n0,1\n0.002,1\n",
            Logger(channels={"body_fl": ChannelMapping(column="az")}),
        )
    assert str(error.value) == (
        'drive.csv: column "az" names no unit; add unit to logger.channels.body_fl'
    )


def test_the_car_files_unit_counts_over_the_headers_and_is_said(read):
    logger = Logger(channels={"body_fl": ChannelMapping(column="az (g)", unit="m/s^2")})
    raw = read("time_s,az (g)\n0,9.8\n0.002,9.8\n", logger)
    np.testing.assert_allclose(raw.channels["body_fl"], 9.8)
    assert raw.source.remarks == (
        'body_fl: the header says "g", the car file "m/s^2"; the car file counts',
    )


def test_a_column_that_nearly_is_a_channel_is_mentioned(read):
    raw = read("time_s,travel_fl_mm,travel_fr_cm\n0,1,2\n0.002,1,2\n")
    assert raw.source.remarks == ('column "travel_fr_cm" is not used; did you mean travel_fr_mm?',)


def test_long_names_are_found_whole(read):
    name = "vertical acceleration of the body above the front left wheel, unfiltered, as recorded"
    logger = Logger(channels={"body_fl": ChannelMapping(column=name, unit="g")})
    raw = read(f'time_s,"{name}"\n0,1\n0.002,1\n', logger)
    assert raw.columns == {"body_fl": name}


def test_dates_beside_decimal_commas_are_cut_at_the_semicolon(read):
    rows = "".join(f"2026-05-02T10:00:{i / 10:06.3f};{i},5\n" for i in range(40))
    raw = read("time;travel_fl_mm\n" + rows)
    np.testing.assert_allclose(raw.time_s, np.arange(40) / 10, atol=1e-9)
    np.testing.assert_allclose(raw.channels["travel_fl"] * 1000, np.arange(40) + 0.5)


def test_rows_that_are_all_shorter_than_a_later_torn_one(read):
    """Found by fuzzing: the table looks four cells wide, the rows parsed first have three."""
    logger = Logger(channels={"cabin": ChannelMapping(column="2", unit="g")}, sample_rate_hz=100.0)
    raw = read('time_s;tr_s;travel",000;9,80\n0,002;-0,143;9,82\n0,004;0,266;90,006;-', logger)
    assert raw.source.rows_read + raw.source.rows_skipped_count == 2


@pytest.mark.parametrize("word", ["-", "--", "-nan", "-NaN", "-1.#IND", "1.#QNAN", "nan", "null"])
def test_words_for_no_reading_are_known_wherever_they_stand(read, word):
    rows = [f"{i * 0.002:.3f},{i % 7 - 3},{9.81 + i % 5}" for i in range(400)]
    rows[399] = f"0.798,{word},9.81"
    raw = read(head() + "\n".join(rows) + "\n", Logger())
    assert raw.source.rows_read == 400
    assert np.flatnonzero(np.isnan(raw.channels["travel_fl"])).tolist() == [399]
