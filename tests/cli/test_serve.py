"""`qc serve`: it answers on the port it names, and a port that is taken is one clear line."""

from __future__ import annotations

import socket
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from qc.cli.serve import serve_dashboard
from qc.errors import InputError, StoreError
from tests.browser.serving import served
from tests.dashboard.small_shop import END_US, build_shop


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> str:
    shop = build_shop(tmp_path_factory.mktemp("serve"))
    shop.store.close()
    return shop.store.location


def test_it_answers_on_a_free_port(place: str) -> None:
    from zoneinfo import ZoneInfo

    with served(place, as_of_us=END_US, zone=ZoneInfo("UTC")) as address:
        with urllib.request.urlopen(address, timeout=20) as answer:
            assert answer.status == 200 and b"Peelcheck" in answer.read()
            assert "Server" not in answer.headers
        with pytest.raises(urllib.error.HTTPError, match="404"):
            urllib.request.urlopen(f"{address}/no-such-page", timeout=20)


def test_a_taken_port_is_one_clear_line(place: str) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(InputError, match=f"cannot listen on 127.0.0.1 port {port}"):
            serve_dashboard(place, "127.0.0.1", port)


def test_no_store_is_a_store_error(tmp_path: Path) -> None:
    with pytest.raises(StoreError):
        serve_dashboard(str(tmp_path / "no.db"), "127.0.0.1", 0)


def test_help_loads_nothing_heavy() -> None:
    code = ("import sys, qc.cli.serve\n"
            "print([m for m in ('dash', 'waitress', 'pandas', 'plotly') if m in sys.modules])")
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True,
                           check=True, timeout=60)
    assert found.stdout.strip() == "[]"
