"""Where a browser is on this machine; none is ever downloaded."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

VARIABLE = "QC_BROWSER"
"""Names the browser's program file; wins over every other place."""

_ON_PATH = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
_MAC = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
)
_WINDOWS = (
    "Google/Chrome/Application/chrome.exe",
    "Chromium/Application/chrome.exe",
    "Microsoft/Edge/Application/msedge.exe",
)
_WINDOWS_ROOTS = ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")

QUIET = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)
"""Start options: a browser of its own that calls nobody, also as root and without a screen."""


def find_browser() -> str | None:
    """The program file of a Chromium-like browser, or None where there is none."""
    named = os.environ.get(VARIABLE)
    if named:
        return named
    found = next(filter(None, map(shutil.which, _ON_PATH)), None)
    if found:
        return found
    return next((str(place) for place in _usual_places() if place.is_file()), None)


def _usual_places() -> list[Path]:
    if sys.platform == "win32":
        roots = [Path(os.environ[name]) for name in _WINDOWS_ROOTS if name in os.environ]
        return [root / tail for root in roots for tail in _WINDOWS]
    if sys.platform == "darwin":
        return [Path(place) for place in _MAC]
    return [Path("/usr/bin/chromium"), Path("/snap/bin/chromium")]
