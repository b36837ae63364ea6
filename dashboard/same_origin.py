"""Requests that change something are taken from our own pages alone."""

from __future__ import annotations

from urllib.parse import urlsplit

import flask

HEADER = "X-Peelcheck"
"""A page of another site cannot set a header of its own without asking first, and is never
allowed to."""


def from_own_page(request: flask.Request) -> bool:
    """Whether a request comes from a page of this server."""
    site = request.headers.get("Sec-Fetch-Site")
    if HEADER not in request.headers or site not in (None, "same-origin"):
        return False
    origin = request.headers.get("Origin")
    return origin is None or urlsplit(origin).netloc == request.host
