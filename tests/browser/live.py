"""The dashboard of one test's shop as a program of its own, which can be killed and come back."""

from __future__ import annotations

import subprocess
import sys
import time


class Live:
    """The dashboard of a store, as if it were ``starts_us`` when this was made."""

    def __init__(self, place: str, *, starts_us: int) -> None:
        self.place = place
        self.ahead_us = time.time_ns() // 1000 - starts_us
        self.port = ""
        self.start()

    def start(self) -> None:
        """Listen, on the same port as before."""
        now_us = time.time_ns() // 1000 - self.ahead_us
        command = [sys.executable, "-m", "tests.browser.run_live", self.place, str(now_us)]
        self.process = subprocess.Popen([*command, *filter(None, [self.port])],
                                        stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.port = self.process.stdout.readline().strip()
        assert self.port, "the dashboard did not start"

    def kill(self) -> None:
        """Gone in the middle of whatever it does: whoever asks finds nobody."""
        self.process.kill()
        self.process.wait(10)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"
