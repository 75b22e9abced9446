"""`ridelog --help` answers at once: it loads none of the heavy libraries."""

from __future__ import annotations

import subprocess
import sys

HEAVY = ("pandas", "scipy", "matplotlib", "pint", "pydantic", "rich", "jinja2", "serial", "numpy")

_HELP = f"""
import sys
from ridelog.cli.main import main
sys.argv = ["ridelog", "--help"]
try:
    main()
except SystemExit as end:
    code = end.code
loaded = [name for name in {HEAVY!r} if name in sys.modules]
print("loaded:", ",".join(loaded), file=sys.stderr)
sys.exit(code)
"""


def test_help_loads_no_heavy_library():
    done = subprocess.run(
        [sys.executable, "-c", _HELP], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert "Usage" in done.stdout
    assert done.stderr.strip().splitlines()[-1] == "loaded:"


def test_the_check_itself_sees_a_heavy_library():
    heavy = _HELP.replace("import sys\n", "import sys, pandas\n", 1)
    done = subprocess.run(
        [sys.executable, "-c", heavy], capture_output=True, text=True, check=False, timeout=60
    )
    assert "pandas" in done.stderr.strip().splitlines()[-1]
