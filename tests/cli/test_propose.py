"""ridelog check --propose: guesses on the terminal, no car file needed."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.cli.main import main


def test_a_folder_without_a_car_file(tmp_path, capsys):
    log = tmp_path / "unknown.csv"
    rows = "".join(f"{i},{1 + np.sin(i) / 9:.4f}\n" for i in range(99))
    log.write_text("millis,hub acc rl\n" + rows)
    with pytest.raises(SystemExit) as leaving:
        main(["check", "--propose", str(log)])
    assert leaving.value.code == 0
    printed = capsys.readouterr().out
    assert "unknown.csv: what its columns may be; nothing was applied" in printed
    assert '\nhub_rl = { column = "hub acc rl", unit = "g" }\n' in printed
    assert [path.name for path in tmp_path.iterdir()] == ["unknown.csv"]


def test_it_goes_without_json(tmp_path, capsys):
    with pytest.raises(SystemExit) as leaving:
        main(["check", "--propose", "x.csv", "--json", "-"])
    assert leaving.value.code == 2
    assert "--propose goes with neither --json nor --report" in capsys.readouterr().err
