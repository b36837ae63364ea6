"""The dashboard of one test's shop inside the test's own process."""

from __future__ import annotations

import threading
import time

from waitress import wasyncore
from waitress.server import create_server

from dashboard import create_app

LONGEST_S = 120


class Inside:
    """The dashboard of a store, as if it were ``starts_us`` when this was made."""

    def __init__(self, place: str, *, starts_us: int) -> None:
        ahead = time.time_ns() // 1000 - starts_us
        self.app = create_app(place, clock_us=lambda: time.time_ns() // 1000 - ahead)
        self._sockets: dict[int, object] = {}
        self.server = create_server(
            self.app.server, map=self._sockets, host="127.0.0.1", port=0, threads=8)
        self.address = f"http://127.0.0.1:{self.server.effective_port}"
        self._loop = threading.Thread(target=self.server.run, daemon=True)
        self._loop.start()

    def close(self) -> None:
        """Whoever still answers finishes first: it then wakes the server through a file number,
        which after the close may be that of the next test's store. The loop closes what it waits
        on itself: closed from here, it would wait on numbers that are gone."""
        self.server.task_dispatcher.shutdown(timeout=LONGEST_S)
        self.server.trigger.pull_trigger(lambda: wasyncore.close_all(self._sockets))
        self._loop.join(timeout=LONGEST_S)
