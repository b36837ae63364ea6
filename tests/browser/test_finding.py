"""The browser tests' own ground: a browser is found, it draws, and it calls nobody."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext

from tests.browser import finding


def test_a_named_browser_wins(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(finding.VARIABLE, "/somewhere/of/our/own")
    assert finding.find_browser() == "/somewhere/of/our/own"


def test_none_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(finding.VARIABLE, raising=False)
    monkeypatch.setattr(finding.shutil, "which", lambda name: None)
    monkeypatch.setattr(finding, "_usual_places", list)
    assert finding.find_browser() is None


@pytest.mark.parametrize("name", finding._WINDOWS)
def test_usual_places_on_windows(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / name
    program.parent.mkdir(parents=True)
    program.touch()
    monkeypatch.delenv(finding.VARIABLE, raising=False)
    monkeypatch.setattr(finding.shutil, "which", lambda wanted: None)
    monkeypatch.setattr(finding.sys, "platform", "win32")
    monkeypatch.setenv("PROGRAMFILES", str(tmp_path))
    assert Path(finding.find_browser() or "") == program


def test_the_browser_draws_a_page(context: BrowserContext) -> None:
    page = context.new_page()
    page.set_content("<button onclick=\"this.textContent = 'pressed'\">press</button>")
    page.click("button")
    assert page.inner_text("button") == "pressed"


_WITHOUT_BROWSER = """
import sys, pytest
from tests.browser import finding
finding.find_browser = lambda: None
sys.exit(pytest.main(["-q", "tests/browser/test_finding.py::test_the_browser_draws_a_page"]))
"""


@pytest.mark.parametrize(
    ("ci", "exit_code", "closing"), [("", 0, "1 skipped"), ("true", 1, "1 error")]
)
def test_a_missing_browser_is_loud_and_fails_in_ci(ci: str, exit_code: int, closing: str) -> None:
    root = Path(__file__).parents[2]
    environment = {**os.environ, "CI": ci}
    done = subprocess.run(
        [sys.executable, "-c", _WITHOUT_BROWSER],
        cwd=root, env=environment, capture_output=True, text=True, check=False,
    )
    assert done.returncode == exit_code, done.stdout
    assert "THE BROWSER TESTS DID NOT RUN" in done.stdout
    assert closing in done.stdout
