"""`qc demo` as a shell sees it: a store built or found, a page served, an end by Ctrl+C."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from tests.cli.running import Shell

RUN = [sys.executable, "-c", "from qc.cli import main; main()"]
ADDRESS = re.compile(r"http://127\.0\.0\.1:\d+/")
LONG_S = 120


def _hear_ctrl_c() -> None:
    """What a shell starts in the background is deaf to Ctrl+C, and so is all it starts."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


class Demo:
    """`qc demo` in a process of its own, in an empty folder."""

    def __init__(self, folder: Path, *arguments: str) -> None:
        self.log = folder / "messages.txt"
        with self.log.open("w") as messages:
            self.process = subprocess.Popen(
                [*RUN, "demo", "--no-browser", "--port", "0", *arguments], cwd=folder,
                stdout=subprocess.PIPE, stderr=messages,
                env={**os.environ, "QC_STORE": str(folder / "real_shop.db")},
                preexec_fn=_hear_ctrl_c if os.name == "posix" else None,
            )

    def address(self) -> str:
        """Where the page is, once it is said."""
        until = time.monotonic() + LONG_S
        while time.monotonic() < until and self.process.poll() is None:
            found = ADDRESS.search(self.log.read_text())
            if found:
                return found.group()
            time.sleep(0.2)
        raise AssertionError(self.log.read_text())

    def stop(self) -> tuple[bytes, str]:
        """End it as Ctrl+C does; what it wrote to standard output, and its messages."""
        self.process.send_signal(signal.SIGINT)
        out, _ = self.process.communicate(timeout=30)
        return out, self.log.read_text()

    def end(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl+C is sent another way there")
def test_the_demo_is_built_served_and_found_again(tmp_path: Path) -> None:
    (tmp_path / "demo_shop.db").write_text("somebody's own file")
    first = Demo(tmp_path)
    try:
        with urllib.request.urlopen(first.address(), timeout=30) as page:
            assert page.status == 200
        out, said = first.stop()
    finally:
        first.end()
    assert out == b""
    assert "demo_shop.db is not a demo shop and stays as it is" in said
    assert "building the demo shop in demo_shop_2.db" in said
    assert "--as-of 2026-11-20T20:00:00+00:00" in said
    assert "Traceback" not in said
    assert (tmp_path / "demo_shop.db").read_text() == "somebody's own file"
    assert not (tmp_path / "real_shop.db").exists()

    second = Demo(tmp_path)
    try:
        second.address()
        _, said = second.stop()
    finally:
        second.end()
    assert "is in demo_shop_2.db already; nothing was built" in said


def test_a_file_of_somebody_elses_is_refused_in_one_line(shell: Shell, tmp_path: Path) -> None:
    mine = tmp_path / "mine.db"
    mine.write_text("mine")
    outcome = shell.run("demo", "--no-browser", "--store", mine)
    assert (outcome.code, outcome.out) == (2, "")
    assert outcome.err == f"qc: {mine} is not a demo shop and stays as it is; name a new file\n"
    assert mine.read_text() == "mine"


def test_a_database_url_is_refused_in_one_line(shell: Shell) -> None:
    outcome = shell.run("demo", "--no-browser", "--store", "postgresql://nowhere/shop")
    assert outcome.code == 2
    assert outcome.err.count("\n") == 1
    assert "qc demo builds a SQLite file, name one" in outcome.err


def test_a_folder_that_is_not_there_is_named(shell: Shell, tmp_path: Path) -> None:
    outcome = shell.run("demo", "--no-browser", "--store", tmp_path / "no" / "demo.db")
    assert outcome.code == 2
    assert outcome.err.splitlines()[-1].endswith("its folder is not there; make it first")
