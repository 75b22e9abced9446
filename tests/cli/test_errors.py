"""Every fault of the call or the input: one plain line with the cure, exit status 2."""

import subprocess
import sys

import pytest

from ridelog.cli.main import COMMANDS, main

CAR = """
[car]
name = "Saturday wagon"
wheelbase = "2.794 m"
[front]
layout = "independent"
track = "1.52 m"
sprung_mass = "780 kg"
unsprung_mass = "86 kg"
spring_rate = "450 lbf/in"
motion_ratio = 0.61
clicks = 18
[rear]
layout = "solid"
track = "1.50 m"
damper_spacing = "1.05 m"
sprung_mass = "560 kg"
unsprung_mass = "150 kg"
spring_rate = "190 lbf/in"
motion_ratio = 0.78
clicks = 18
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    (tmp_path / "car.toml").write_text(CAR, encoding="utf-8")
    (tmp_path / "run.csv").write_text("time_s,travel_fl_mm\n0.00,1.0\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def complaint(capsys, *arguments):
    """Run a call that must fail; return its one line on standard error."""
    with pytest.raises(SystemExit) as leaving:
        main(list(arguments))
    printed = capsys.readouterr()
    assert leaving.value.code == 2
    assert printed.out == ""
    assert printed.err.endswith("\n")
    lines = printed.err.splitlines()
    assert len(lines) == 1
    return lines[0]


def test_unknown_command(capsys):
    assert complaint(capsys, "analize", "run.csv") == (
        "ridelog: no command 'analize'; did you mean analyze? See ridelog --help."
    )


def test_unknown_command_unlike_any(capsys):
    assert complaint(capsys, "zzz") == (
        f"ridelog: no command 'zzz'; known are {', '.join(COMMANDS)}. See ridelog --help."
    )


def test_missing_argument(capsys):
    assert complaint(capsys, "analyze") == (
        "ridelog analyze: Missing argument 'LOG'. See ridelog analyze --help."
    )


def test_unknown_option(capsys, folder):
    line = complaint(capsys, "analyze", "run.csv", "--jsn", "x")
    assert line.startswith("ridelog analyze: No such option '--jsn'")
    assert line.endswith("See ridelog analyze --help.")


@pytest.mark.parametrize("command", ["analyze", "check"])
def test_missing_log(capsys, folder, command):
    assert complaint(capsys, command, "nope.csv") == (
        f"nope.csv: there is no such file in {folder}"
    )


@pytest.mark.parametrize("command", ["analyze", "check"])
def test_folder_for_a_log(capsys, folder, command):
    (folder / "runs").mkdir()
    assert complaint(capsys, command, "runs") == (
        "runs: is a folder; name one log in it (ridelog advise takes folders)"
    )


@pytest.mark.parametrize("command", ["analyze", "check", "advise"])
def test_too_little_log_names_the_log(capsys, folder, command):
    assert complaint(capsys, command, "run.csv") == (
        "run.csv: the log: needs 16 rows, the log has 1 rows"
    )


def test_demo_spares_a_folder_that_is_not_empty(capsys, folder):
    before = sorted(folder.iterdir())
    assert complaint(capsys, "demo", ".") == (
        ".: the folder is not empty; name a new or an empty one (nothing was written)"
    )
    assert sorted(folder.iterdir()) == before


@pytest.mark.parametrize("command", ["analyze", "check"])
def test_missing_car_file(capsys, folder, command):
    (folder / "car.toml").unlink()
    assert complaint(capsys, command, "run.csv") == (
        f"car.toml: there is no such file in {folder}; describe the car there or name it with --car"
    )


def test_missing_named_car_file(capsys, folder):
    assert complaint(capsys, "analyze", "run.csv", "--car", "wagon.toml") == (
        f"wagon.toml: there is no such file in {folder}; "
        "describe the car there or name it with --car"
    )


def test_json_over_the_log(capsys, folder):
    before = (folder / "run.csv").read_bytes()
    assert complaint(capsys, "analyze", "run.csv", "--json", "run.csv") == (
        "run.csv: exists and is not a JSON made by ridelog; nothing was written, "
        "choose another name"
    )
    assert (folder / "run.csv").read_bytes() == before


@pytest.mark.parametrize("command", ["analyze", "check", "advise"])
def test_report_over_the_car_file(capsys, folder, command):
    before = (folder / "car.toml").read_bytes()
    assert complaint(capsys, command, "run.csv", "--report", "car.toml") == (
        "car.toml: exists and is not a page made by ridelog; nothing was written, "
        "choose another name"
    )
    assert (folder / "car.toml").read_bytes() == before


def test_report_into_a_missing_folder(capsys, folder):
    assert complaint(capsys, "analyze", "run.csv", "--report", "out/run.html") == (
        "run.html: there is no folder out; make it first"
    )


def test_car_file_with_two_faults_has_a_line_for_each(capsys, folder):
    text = CAR.replace("motion_ratio = 0.61", "motion_rato = 0.61")
    (folder / "car.toml").write_text(text, encoding="utf-8")
    with pytest.raises(SystemExit) as leaving:
        main(["analyze", "run.csv"])
    lines = capsys.readouterr().err.splitlines()
    assert leaving.value.code == 2
    assert len(lines) == 2
    assert all(line.startswith("car.toml: ") for line in lines)
    assert any("motion_rato" in line and "motion_ratio" in line for line in lines)


def test_schema_does_not_overwrite_the_car(capsys, folder):
    assert complaint(capsys, "car-schema", "--out", "car.toml").startswith(
        "car.toml: exists and is not a JSON made by ridelog"
    )


def unreadable(path):
    raise PermissionError(13, "Permission denied", str(path))


def test_a_file_that_may_not_be_read(capsys, folder, monkeypatch):
    # Root may read everything, so the refusal is played.
    monkeypatch.setattr("ridelog.car.load.load_car", unreadable)
    assert complaint(capsys, "analyze", "run.csv") == "car.toml: Permission denied"


def interrupted(path):
    raise KeyboardInterrupt


def test_ctrl_c_is_clean(capsys, folder, monkeypatch):
    monkeypatch.setattr("ridelog.car.load.load_car", interrupted)
    with pytest.raises(SystemExit) as leaving:
        main(["analyze", "run.csv"])
    assert (leaving.value.code, capsys.readouterr().err) == (130, "\nstopped\n")


def test_closed_pipe_is_quiet():
    script = (
        "import subprocess, sys\n"
        "child = subprocess.Popen([sys.executable, '-c',"
        " 'from ridelog.cli.main import main; main()', 'car-schema'],"
        " stdout=subprocess.PIPE, stderr=subprocess.PIPE)\n"
        "child.stdout.close()\n"
        "sys.stderr.write(child.stderr.read().decode())\n"
        "sys.exit(child.wait())\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, check=False, text=True, timeout=60
    )
    assert (done.returncode, done.stderr) == (1, "")


def test_too_little_memory_is_one_line(folder, monkeypatch, capsys):
    def out_of_memory(*_):
        raise MemoryError

    monkeypatch.setattr("ridelog.runs.analyze.analyze_log", out_of_memory)
    with pytest.raises(SystemExit) as left:
        main(["analyze", "run.csv"])
    said = capsys.readouterr().err.strip()
    assert left.value.code == 2
    assert said.startswith("ridelog: not enough memory;")
    assert "\n" not in said
