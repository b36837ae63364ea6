"""The real command, serving a real store on a free port."""

from __future__ import annotations

import re
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from qc.domain.instants import iso
from qc.errors import StoreError

WAIT_S = 60


@contextmanager
def served(place: str, *, as_of_us: int | None, zone: object) -> Iterator[str]:
    """The address of the dashboard of a store, for as long as it is needed; as of now with None."""
    command = [sys.executable, "-m", "tests.browser.run_qc", "serve", "--store", place,
               "--port", "0"]
    if as_of_us is not None:
        command += ["--as-of", iso(as_of_us, zone)]  # type: ignore[arg-type]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    try:
        yield _address(process)
    finally:
        process.terminate()
        process.wait(10)


def _address(process: subprocess.Popen[str]) -> str:
    """What the command says on standard error, once it listens."""
    timer = threading.Timer(WAIT_S, process.kill)
    timer.start()
    begun, lines = time.monotonic(), []
    try:
        for line in process.stderr or ():
            lines.append(line)
            found = re.search(r"http://\S+?(?=/? )", line)
            if found:
                return found.group(0)
    finally:
        timer.cancel()
    took = time.monotonic() - begun
    raise StoreError(f"the dashboard did not start ({took:.0f} s): {''.join(lines)}")
