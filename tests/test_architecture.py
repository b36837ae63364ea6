"""The house keeps its shape: imports run one way, and help starts without the heavy libraries."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
HEAVY = frozenset({
    "numpy", "scipy", "pandas", "sqlalchemy", "alembic", "psycopg", "dash",
    "dash_mantine_components", "plotly", "flask", "waitress", "xlsxwriter", "python_calamine",
    "statsmodels", "resvg_py", "typst", "segno",
})
PACKAGES = ("qc", "dashboard", "reports", "demo_data")

_CONTRACTS = "from importlinter.cli import lint_imports_command; lint_imports_command()"
_HELP = """
import json, sys
from qc.cli import build_app
try:
    build_app()(["{command}", "--help"] if "{command}" else ["--help"])
except SystemExit as stop:
    assert stop.code == 0, stop.code
print(json.dumps(sorted({{name.partition(".")[0] for name in sys.modules}})))
"""


def _run(code: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", code],
        cwd=folder, env={**os.environ, "PYTHONPATH": str(folder), "NO_COLOR": "1"},
        capture_output=True, text=True, check=False, encoding="utf-8",
    )


def test_import_contracts_hold() -> None:
    done = _run(_CONTRACTS, ROOT)
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(
    ("place", "line"),
    [
        ("dashboard/breach.py", "import qc.store"),
        ("reports/breach.py", "import dashboard"),
        ("qc/monitor/breach.py", "import qc.store"),
        ("qc/store/breach.py", "import qc.stats"),
        ("qc/stats/breach.py", "import qc.units"),
        ("qc/desk/breach.py", "import dashboard"),
        ("qc/desk/breach.py", "import dash"),
        ("qc/stats/breach.py", "import pandas"),
    ],
)
def test_contracts_catch_a_planted_breach(place: str, line: str, tmp_path: Path) -> None:
    for package in PACKAGES:
        shutil.copytree(
            ROOT / package, tmp_path / package, ignore=shutil.ignore_patterns("__pycache__")
        )
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    (tmp_path / place).write_text(f"{line}\n", encoding="utf-8")
    done = _run(_CONTRACTS, tmp_path)
    assert done.returncode == 1
    assert place.removesuffix(".py").replace("/", ".") in done.stdout


@pytest.mark.parametrize("command", ["", "load", "flags", "presses", "chart"])
def test_help_imports_nothing_heavy(command: str) -> None:
    done = _run(_HELP.format(command=command), ROOT)
    assert done.returncode == 0, done.stderr
    loaded = set(json.loads(done.stdout.splitlines()[-1]))
    assert "typer" in loaded
    assert not loaded & HEAVY
