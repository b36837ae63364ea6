"""The dashboard's factory: one app for one shop. Nothing is registered at import."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import flask
from dash import Dash

from dashboard import shell, text, theme
from dashboard.answers import Answers
from dashboard.packing import keep_packed
from dashboard.pages.bench import callbacks as bench
from dashboard.pages.cases import callbacks as cases
from dashboard.pages.charts import callbacks as charts
from dashboard.pages.floor import callbacks as floor
from dashboard.pages.presses import callbacks as presses
from dashboard.pages.records import callbacks as records
from dashboard.pages.setup import callbacks as setup
from dashboard.pages.trends import callbacks as trends
from qc.desk.shop import open_shop

_INDEX = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<title>{%title%}</title>
<link rel="icon" type="image/svg+xml" href="/assets/peel.svg">
<link rel="preload" as="font" type="font/woff2" crossorigin
 href="/assets/fonts/atkinson-hyperlegible-next-latin-wght-normal.woff2">
<script src="/assets/early.js"></script>
<style>STYLE</style>
{%css%}
</head>
<body>
<noscript>This page needs JavaScript, which comes from this server alone.</noscript>
{%app_entry%}
<footer>{%config%}{%scripts%}{%renderer%}</footer>
</body>
</html>
"""
_META = [
    {"name": "viewport", "content": "width=device-width, initial-scale=1"},
    {"name": "description", "content": "Quality control of heat transfers pressed onto garments"},
]


def create_app(
    place: str, *, as_of_us: int | None = None, clock_us: Callable[[], int] | None = None
) -> Dash:
    """The dashboard of the shop whose store is at ``place``.

    ``as_of_us`` looks back from a fixed moment (microseconds UTC); by default pages show now, as
    ``clock_us`` tells it (else this machine's clock).

    Raises
    ------
    StoreError
        The store cannot be opened.
    """
    shop = open_shop(place)
    answers = (Answers(shop, as_of_us=as_of_us) if clock_us is None
               else Answers(shop, as_of_us=as_of_us, clock_us=clock_us))
    app = Dash(
        "dashboard", title=text.PRODUCT, update_title="", use_pages=False, compress=True,
        assets_folder=str(Path(__file__).parent / "assets"), assets_ignore="early.js",
        assets_path_ignore=["^bench$"],
        serve_locally=True, meta_tags=_META, suppress_callback_exceptions=True,
        index_string=_INDEX.replace("STYLE", theme.style_sheet()),
    )
    app.layout = shell.shell(answers)
    shell.register(app, answers)
    for page in (bench, floor, trends, cases, presses, charts, records, setup):
        page.register(app, answers)
    keep_packed(app.server)
    _guard_answers(app)
    return app


def _guard_answers(app: Dash) -> None:
    """Security headers on everything; an unknown address answers 404 with the helpful page."""
    headers = _security_headers(app)

    @app.server.after_request
    def finish(response: flask.Response) -> flask.Response:
        for name, value in headers.items():
            response.headers.setdefault(name, value)
        path = flask.request.path
        own = ("/_", "/assets", "/orders/", "/bench", "/jobs/")
        is_page = response.mimetype == "text/html" and not path.startswith(own)
        if is_page and response.status_code == 200 and shell.tidy(path) not in shell.LAYOUTS:
            response.status_code = 404
        return response


def _security_headers(app: Dash) -> dict[str, str]:
    scripts = " ".join(["'self'", *(f"{h}" for h in app.csp_hashes())])
    policy = {
        "default-src": "'self'", "script-src": scripts, "style-src": "'self' 'unsafe-inline'",
        "img-src": "'self' data: blob:", "font-src": "'self'", "worker-src": "'self' blob:",
        "connect-src": "'self'", "object-src": "'none'", "base-uri": "'self'",
        "form-action": "'self'", "frame-ancestors": "'none'",
    }
    return {
        "Content-Security-Policy": "; ".join(f"{k} {v}" for k, v in policy.items()),
        "X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY",
        "Referrer-Policy": "no-referrer", "Cross-Origin-Opener-Policy": "same-origin",
        "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
    }
