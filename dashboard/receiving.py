"""Files that a browser sends: kept in a folder of their own until they are loaded or forgotten.

They come as plain requests, one a file, not through a callback: a callback would carry them as
base64 in one JSON text, held in memory several times over. Who may send is checked by where the
request comes from (`dashboard.same_origin`), since a plain request could also come from another
site.
"""

from __future__ import annotations

import re
import shutil
import tempfile
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import flask

from dashboard.same_origin import HEADER, from_own_page
from qc.desk.loading import LoadReport

MOST_BYTES = 200 * 1024 * 1024
MOST_FILES = 20
MOST_RUNS = 12
KEPT_S = 3 * 3600
ENDINGS = (".csv", ".tsv", ".txt", ".xlsx")
_PART = 1 << 20
_RUN = re.compile(r"[0-9a-f]{32}")


@dataclass(slots=True, kw_only=True)
class Run:
    """Files sent together, and how far their checking or loading has come.

    ``state``: 'sending', 'checking', 'checked', 'loading', 'loaded' or 'failed' (``error``).
    ``reading``: the file being read and how far into it (0..1).
    """

    folder: Path
    begun_s: float
    paths: list[Path] = field(default_factory=list)
    state: str = "sending"
    reading: tuple[str, float] = ("", 0.0)
    report: LoadReport | None = None
    with_codes: LoadReport | None = None
    new_codes: bool = False
    as_read: bool = False
    ignore: tuple[str, ...] = ()
    error: str = ""

    @property
    def is_busy(self) -> bool:
        return self.state in ("checking", "loading")


class Received:
    """The runs of one app. Safe from several threads; old runs go with their files."""

    def __init__(self) -> None:
        self._home = tempfile.TemporaryDirectory(prefix="peelcheck-files-")
        self._runs: OrderedDict[str, Run] = OrderedDict()
        self._lock = threading.Lock()

    def run(self, name: str) -> Run | None:
        """The run of this name, if it is still kept."""
        with self._lock:
            self._forget_old()
            return self._runs.get(name)

    def begin(self, name: str) -> Run | None:
        """The run of this name, begun if it is new; None where the name cannot be one."""
        if not _RUN.fullmatch(name):
            return None
        with self._lock:
            self._forget_old()
            if name not in self._runs:
                folder = Path(self._home.name) / name
                folder.mkdir(exist_ok=True)
                self._runs[name] = Run(folder=folder, begun_s=time.monotonic())
            return self._runs[name]

    def _forget_old(self) -> None:
        old = [name for name, run in self._runs.items()
               if not run.is_busy and time.monotonic() - run.begun_s > KEPT_S]
        spare = [name for name, run in self._runs.items() if not run.is_busy]
        old += spare[: max(len(self._runs) - MOST_RUNS, 0)]
        for name in dict.fromkeys(old):
            shutil.rmtree(self._runs.pop(name).folder, ignore_errors=True)


def register(server: flask.Flask, received: Received, may_send: Callable[[], bool]) -> None:
    """The address files are sent to, and the one rejected rows are taken from."""

    @server.route("/records/files", methods=["POST"], endpoint="records-send")
    def send() -> tuple[dict[str, str], int]:
        request = flask.request
        if not from_own_page(request) or not may_send():
            return {"why": "this may only be sent by the page itself"}, 403
        run = received.begin(request.headers.get(HEADER, ""))
        name = safe_name(request.args.get("name", ""))
        if run is None or run.state != "sending" or len(run.paths) >= MOST_FILES:
            return {"why": "there is no such run, or it has all its files"}, 409
        if name is None:
            return {"why": f"only {', '.join(ENDINGS)} can be read"}, 415
        if (request.content_length or 0) > MOST_BYTES:
            return {"why": f"it is larger than {MOST_BYTES >> 20} MB"}, 413
        path = run.folder / f"{len(run.paths):02d}" / name
        path.parent.mkdir()
        if not _write(request, path):
            shutil.rmtree(path.parent, ignore_errors=True)
            return {"why": f"it is larger than {MOST_BYTES >> 20} MB, or broke off"}, 413
        run.paths.append(path)
        return {"kept": name}, 200

    @server.route("/records/files/<name>/<int:at>/rejects.csv", endpoint="records-rejects")
    def rejects(name: str, at: int) -> flask.Response:
        run = received.run(name)
        report = run.report if run is not None else None
        if report is None or at >= len(report.files) or report.files[at].rejects_file is None:
            flask.abort(404)
        path = Path(report.files[at].rejects_file or "")
        return flask.send_file(path, mimetype="text/csv", as_attachment=True,
                               download_name=path.name, max_age=0)


def safe_name(given: str) -> str | None:
    """A file's name without any way out of its folder; None where its ending cannot be read."""
    name = re.sub(r"[^\w .()+-]", "_", given.replace("\\", "/").rpartition("/")[2]).strip(" .")
    stem, dot, ending = name.rpartition(".")
    if not dot or not stem or f".{ending.lower()}" not in ENDINGS:
        return None
    return f"{stem[:100]}.{ending.lower()}"


def _write(request: flask.Request, path: Path) -> bool:
    """Keep what is sent, part by part; whether all of it came and fitted."""
    size = 0
    with path.open("wb") as out:
        while part := request.stream.read(_PART):
            size += len(part)
            if size > MOST_BYTES:
                return False
            out.write(part)
    return request.content_length is None or size == request.content_length
