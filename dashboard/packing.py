"""Libraries of the browser, packed once and kept: megabytes are not packed anew for every visit,
which a busy machine would feel as a page that does not come."""

from __future__ import annotations

import gzip
from threading import Lock

import flask

PACKED = "/_dash-component-suites/"
LEVEL = 6


def keep_packed(server: flask.Flask) -> None:
    """Answer requests for libraries with the packed form kept from the first time."""
    kept: dict[str, bytes] = {}
    lock = Lock()

    @server.after_request
    def pack(response: flask.Response) -> flask.Response:
        if not _can_be_packed(response):
            return response
        path = flask.request.path
        with lock:
            if path not in kept:
                kept[path] = gzip.compress(response.get_data(), LEVEL, mtime=0)
        response.direct_passthrough = False
        response.set_data(kept[path])
        response.headers["Content-Encoding"] = "gzip"
        response.headers.add("Vary", "Accept-Encoding")
        return response


def _can_be_packed(response: flask.Response) -> bool:
    request = flask.request
    return (
        request.method == "GET" and request.path.startswith(PACKED)
        and response.status_code == 200 and "Content-Encoding" not in response.headers
        and "gzip" in request.headers.get("Accept-Encoding", "")
    )
