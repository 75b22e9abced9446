"""Help is quick, complete and agrees with itself."""

import importlib
import json
import subprocess
import sys

import click
import pytest

from ridelog.cli.main import COMMANDS, commands, main

HEAVY = ("numpy", "pandas", "scipy", "matplotlib", "pint", "pydantic", "rich", "jinja2")


def modules_after(statement):
    code = f"{statement}\nimport sys\nprint(chr(10).join(sys.modules), file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=False, text=True, timeout=60
    )
    return set(done.stderr.split()), done


CALL = """
from ridelog.cli.main import main
try:
    main({arguments})
except SystemExit as leaving:
    assert leaving.code == 0
"""


@pytest.mark.parametrize(
    "arguments", [["--help"], [], *([name, "--help"] for name in COMMANDS)], ids=str
)
def test_help_loads_only_click(arguments):
    loaded, done = modules_after(CALL.format(arguments=arguments))
    assert done.returncode == 0
    assert done.stdout.startswith("Usage: ridelog")
    assert not {name for name in loaded if name.split(".")[0] in HEAVY}
    rooms = {name.split(".")[1] for name in loaded if name.startswith("ridelog.")}
    assert rooms == {"cli", "errors"}


def test_help_of_the_group_loads_no_command():
    loaded, _ = modules_after(CALL.format(arguments=["--help"]))
    assert {name for name in loaded if name.startswith("ridelog.cli.")} == {"ridelog.cli.main"}


@pytest.mark.parametrize("name", COMMANDS)
def test_short_help_is_the_commands_own(name):
    module, words = COMMANDS[name]
    command = importlib.import_module(module).command
    assert command.name == name
    assert command.short_help == words


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_one_example(name):
    context = click.Context(commands)
    text = commands.get_command(context, name).epilog
    examples = [line for line in text.splitlines() if line.strip().startswith("Example:")]
    assert len(examples) == 1
    assert examples[0].split()[1:3] == ["ridelog", name]


def test_version(capsys):
    with pytest.raises(SystemExit) as leaving:
        main(["--version"])
    assert leaving.value.code == 0
    assert capsys.readouterr().out.startswith("ridelog, version ")


def test_schema_is_json_alone(capsys):
    with pytest.raises(SystemExit) as leaving:
        main(["car-schema"])
    printed = capsys.readouterr()
    assert leaving.value.code == 0
    assert printed.err == ""
    assert json.loads(printed.out)["properties"].keys() >= {"car", "front", "rear"}


def test_schema_to_a_file_and_again(tmp_path, capsys):
    path = tmp_path / "car.schema.json"
    for _ in range(2):
        with pytest.raises(SystemExit) as leaving:
            main(["car-schema", "--out", str(path)])
        assert leaving.value.code == 0
    assert "$schema" in json.loads(path.read_text(encoding="utf-8"))
    assert capsys.readouterr().out == ""
