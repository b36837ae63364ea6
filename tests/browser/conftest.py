"""A real browser for the tests of this folder.

On a machine without one these tests are skipped and the run's end says so loudly; under
CI (``CI`` set in the environment) a missing browser fails them instead.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, sync_playwright

from tests.browser.finding import QUIET, VARIABLE, find_browser

_MISSING = (
    "no browser on this machine: install Chromium (Debian: apt install chromium), Chrome or "
    f"Edge, or name its program file in {VARIABLE}"
)
_SKIPPED = pytest.StashKey[bool]()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder is a browser test, marked or not.

    A busy machine can keep a browser waiting past any limit: one that timed out is asked once
    more, and the run's end counts it. What the page says wrongly fails at once.
    """
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.flaky(reruns=1, only_rerun=["TimeoutError"]))


@pytest.fixture(scope="session")
def browser(pytestconfig: pytest.Config) -> Iterator[Browser]:
    """One headless browser for the whole run."""
    program = find_browser()
    if program is None:
        pytestconfig.stash[_SKIPPED] = True
        if os.environ.get("CI"):
            pytest.fail(_MISSING)
        pytest.skip(_MISSING)
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=program, args=list(QUIET))
        yield launched
        launched.close()


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    """A clean browser profile: nothing remembered from another test."""
    made = browser.new_context(viewport={"width": 1280, "height": 900})
    yield made
    made.close()


def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter, config: pytest.Config
) -> None:
    """Say loudly that the browser tests did not run."""
    if config.stash.get(_SKIPPED, False):
        terminalreporter.section("THE BROWSER TESTS DID NOT RUN", sep="!", red=True, bold=True)
        terminalreporter.line(_MISSING, red=True, bold=True)
