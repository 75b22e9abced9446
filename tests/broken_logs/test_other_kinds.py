"""Files that are no log: one line says what it is, or what was tried, and what to do instead."""

from __future__ import annotations

import gzip
import io
import json
import sqlite3
import tarfile
import warnings
import zipfile

import numpy as np
import pytest

from ridelog.errors import LogError


def picture(kind: str) -> bytes:
    from matplotlib.figure import Figure

    out = io.BytesIO()
    Figure().savefig(out, format=kind)
    return out.getvalue()


def data_base(folder) -> bytes:
    with sqlite3.connect(folder / "x.sqlite") as base:
        base.execute("create table drive (time_s, travel_fl_mm)")
    base.close()
    return (folder / "x.sqlite").read_bytes()


def archive(*names: str) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name in names:
            packed.writestr(name, "time_s,travel_fl_mm\n0,1\n")
    return out.getvalue()


def tar() -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w") as packed:
        packed.addfile(tarfile.TarInfo("drive.csv"))
    return out.getvalue()


def array() -> bytes:
    out = io.BytesIO()
    np.save(out, np.arange(100.0))
    return out.getvalue()


NOISE = np.random.default_rng(1).bytes(5000)
ROWS = [{"time_s": i / 100, "travel_fl_mm": i} for i in range(50)]
KINDS = {
    "png": (lambda _: picture("png"), "is a picture (PNG), not a log"),
    "svg": (lambda _: picture("svg"), "is a page or XML, and no GPX track"),
    "pdf": (lambda _: picture("pdf"), "is a PDF document, not a log"),
    "sqlite": (data_base, "is an SQLite data base, not a log; export its table"),
    "json": (lambda _: json.dumps(ROWS, indent=1).encode(), "is JSON, not a table"),
    "xlsx": (lambda _: archive("[Content_Types].xml", "xl/a.xml"), "is a spreadsheet workbook"),
    "many": (lambda _: archive("a.csv", "b.csv"), "holds 2 files (a.csv, b.csv); pack one log"),
    "tar": (lambda _: tar(), "is a tar archive; take the log out of it"),
    "npy": (lambda _: array(), "is a NumPy array, not a log"),
    "empty": (lambda _: b"", "is empty; record again"),
    "noise": (lambda _: NOISE, "is not a text file (tried as text table, gzip, zip, Parquet,"),
    "html": (lambda _: b"<!DOCTYPE html><p>404</p>", "is a page or XML, and no GPX track"),
    "utf-16": (lambda _: "Dear diary\nfine\n".encode("utf-16"), "holds no row of numbers (tried"),
    "utf-16 noise": (lambda _: b"\xff\xfe" + NOISE, "is not a text file (tried as text table,"),
    "half a mf4": (lambda _: b"MDF     4.10    " + bytes(500), "the MDF file is damaged"),
    "half a parquet": (lambda _: b"PAR1" + NOISE, "the Parquet file is damaged"),
}


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_no_log_is_named_in_one_line(read, tmp_path, kind):
    make, said = KINDS[kind]
    with pytest.raises(LogError) as error:
        read(make(tmp_path), name="drive.log")
    message = str(error.value)
    assert message.startswith(f"drive.log: {said}")
    assert "\n" not in message
    assert len(message) < 250


TEXT = (
    "time_s,travel_fl_mm\n" + "".join(f"{i / 500:.3f},{i % 7}.5\n" for i in range(4000))
).encode()


def parquet(folder) -> bytes:
    import pyarrow as pa
    from pyarrow import parquet as arrow_parquet

    time_s = np.arange(4000) / 500
    table = pa.table({"time_s": time_s, "travel_fl_mm": np.sin(time_s)})
    arrow_parquet.write_table(table, folder / "x.parquet")
    return (folder / "x.parquet").read_bytes()


def mf4(folder) -> bytes:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from asammdf import MDF, Signal
    time_s = np.arange(4000) / 500
    with MDF(version="4.10") as file:
        file.append([Signal(np.sin(time_s), time_s, name="travel_fl_mm", unit="mm")])
        file.save(folder / "x.mf4", overwrite=True)
    return (folder / "x.mf4").read_bytes()


def zipped(_) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("drive.csv", TEXT)
    return out.getvalue()


WHOLE = {"gzip": lambda _: gzip.compress(TEXT), "zip": zipped, "parquet": parquet, "mf4": mf4}


@pytest.mark.parametrize("kind", WHOLE)
def test_a_file_cut_short_gives_no_result_that_does_not_say_so(read, tmp_path, kind):
    content = WHOLE[kind](tmp_path)
    assert read(content, name="drive.log").source.rows_read == 4000
    for share in (0.2, 0.6, 0.97):
        with pytest.raises(LogError, match="damaged"):
            read(content[: int(share * len(content))], name="drive.log")


def test_rows_that_begin_with_brackets_are_still_a_log(read):
    rows = "".join(f"[a] {i / 100},{i}\n" for i in range(30))
    raw = read("[Header]\nlogger,x\n[Data]\ntime_s,travel_fl_mm\n" + rows.replace("[a] ", ""))
    assert raw.source.rows_read == 30
