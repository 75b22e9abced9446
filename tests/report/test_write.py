"""Nothing the user has is ever overwritten, but for an earlier result of the same kind."""

import os
import stat
from pathlib import Path

import pytest

from ridelog.errors import FileError
from ridelog.report.page import analysis_page
from ridelog.report.write import write_result
from tests.report import examples

LOG = "time_s,travel_fl_mm\n0.00,1.0\n"
CAR = '[car]\nname = "Saturday wagon"\n'


@pytest.mark.parametrize("kind", ["JSON", "page"])
@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("run.csv", LOG),
        ("car.toml", CAR),
        ("run.setup.toml", "[clicks]\nfront = 6\n"),
        ("other.json", '{"mine": 1}'),
        ("list.json", "[1, 2]"),
        ("other.html", "<!DOCTYPE html><title>mine</title>"),
        ("bytes.bin", "\x00\x01"),
    ],
)
def test_refuses_what_is_not_ours(tmp_path, kind, name, content):
    path = tmp_path / name
    path.write_text(content, encoding="utf-8")
    with pytest.raises(FileError) as fault:
        write_result(path, "new", kind)
    assert str(fault.value) == (
        f"{name}: exists and is not a {kind} made by ridelog; nothing was written, "
        "choose another name"
    )
    assert path.read_text(encoding="utf-8") == content


def test_refuses_a_file_that_is_not_text(tmp_path):
    path = tmp_path / "log.csv.gz"
    path.write_bytes(b"\x1f\x8b\x08\x00\xff\xfe")
    with pytest.raises(FileError, match="is not a JSON made by ridelog"):
        write_result(path, "{}", "JSON")
    assert path.read_bytes().startswith(b"\x1f\x8b")


def test_replaces_its_own_json_and_page(tmp_path):
    json_file, page_file = tmp_path / "r.json", tmp_path / "r.html"
    page = analysis_page(examples.empty_result(), examples.car())
    for _ in range(2):
        write_result(json_file, '{"contract": 1}', "JSON")
        write_result(page_file, page, "page")
    assert json_file.read_text(encoding="utf-8") == '{"contract": 1}'
    assert page_file.read_text(encoding="utf-8") == page


def test_a_page_does_not_replace_a_json_of_ours(tmp_path):
    path = tmp_path / "r.json"
    path.write_text('{"contract": 1}', encoding="utf-8")
    with pytest.raises(FileError, match="is not a page made by ridelog"):
        write_result(path, "<!DOCTYPE html>", "page")


def test_fills_an_empty_file(tmp_path):
    path = tmp_path / "empty.json"
    path.touch()
    write_result(path, '{"contract": 1}', "JSON")
    assert path.stat().st_size > 0


def test_leaves_no_scratch_file_and_ordinary_rights(tmp_path):
    path = tmp_path / "r.json"
    write_result(path, '{"contract": 1}', "JSON")
    assert [entry.name for entry in tmp_path.iterdir()] == ["r.json"]
    ordinary = tmp_path / "ordinary"
    ordinary.touch()
    assert stat.S_IMODE(path.stat().st_mode) == stat.S_IMODE(ordinary.stat().st_mode)


def test_names_a_missing_folder(tmp_path):
    path = tmp_path / "no" / "r.json"
    with pytest.raises(FileError) as fault:
        write_result(path, "{}", "JSON")
    assert str(fault.value) == f"r.json: there is no folder {tmp_path / 'no'}; make it first"


def test_refuses_a_folder(tmp_path):
    with pytest.raises(FileError) as fault:
        write_result(tmp_path, "{}", "JSON")
    assert str(fault.value) == f"{tmp_path.name}: is a folder; name a file for the JSON"


def test_writes_into_a_pipe():
    reading, writing = os.pipe()
    write_result(Path(f"/dev/fd/{writing}"), "{}", "JSON")
    os.close(writing)
    with os.fdopen(reading) as pipe:
        assert pipe.read() == "{}"
