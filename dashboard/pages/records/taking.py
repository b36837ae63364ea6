"""Lists to take out: what an address asks for, as a file. Nothing is changed by asking."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import flask
from dash import Dash

from dashboard import formats
from dashboard.answers import Answers
from dashboard.pages.records.asking import asked_of
from dashboard.text import records as words
from dashboard.view import RecordsView, read_view
from qc.desk.looks import LooksAsked, all_looks
from qc.errors import InputError, QcError
from reports.looks import MOST_IN_XLSX, csv_parts, write_xlsx

__all__ = ["MOST_IN_XLSX", "register_taking"]
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
CHUNK = 1 << 16


def register_taking(app: Dash, answers: Answers) -> None:
    """The addresses of the files."""

    @app.server.route("/records/looks.csv", endpoint="records-csv")
    def take_csv() -> flask.Response:
        shop = answers.shop
        looks = all_looks(shop, _asked(), as_of_us=answers.quick_as_of_us())
        response = flask.Response(csv_parts(looks, shop.zone), mimetype="text/csv")
        return _named(response, "csv")

    @app.server.route("/records/looks.xlsx", endpoint="records-xlsx")
    def take_xlsx() -> flask.Response:
        shop = answers.shop
        looks = all_looks(shop, _asked(), as_of_us=answers.quick_as_of_us())
        folder = tempfile.TemporaryDirectory(prefix="peelcheck-list-")
        path = Path(folder.name) / "looks.xlsx"
        try:
            write_xlsx(path, looks, shop.zone)
        except InputError:
            folder.cleanup()
            most = formats.count(MOST_IN_XLSX)
            return flask.Response(words.TOO_MANY_FOR_XLSX.format(most=most), status=413,
                                  mimetype="text/plain")
        except QcError:
            folder.cleanup()
            raise
        response = flask.Response(_parts(path, folder), mimetype=XLSX)
        response.content_length = path.stat().st_size
        return _named(response, "xlsx")


def _asked() -> LooksAsked:
    return asked_of(read_view(RecordsView, flask.request.query_string.decode()))


def _parts(path: Path, folder: tempfile.TemporaryDirectory[str]) -> Iterator[bytes]:
    """A file in parts; its folder goes when it was sent, or nobody waits for it any more."""
    with folder, path.open("rb") as content:
        while part := content.read(CHUNK):
            yield part


def _named(response: flask.Response, form: str) -> flask.Response:
    response.headers["Content-Disposition"] = f'attachment; filename="looks.{form}"'
    response.headers["Cache-Control"] = "no-store"
    return response
