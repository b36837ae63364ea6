from __future__ import annotations

import pytest

from tests.cli.running import Shell


@pytest.fixture
def shell(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shell:
    """Runs one group of commands in this process."""
    return Shell(monkeypatch, capsys)
