"""The sheet of a job at its own address, to be read or printed."""

from __future__ import annotations

import flask
from dash import Dash

from dashboard.answers import Answers
from qc.desk.job_sheet import job_sheet
from qc.errors import NotFound
from reports.job_sheet import sheet_document
from reports.writing import FORMS

TYPES = {"html": "text/html", "pdf": "application/pdf"}


def register(app: Dash, answers: Answers) -> None:
    """The address of every job's sheet; the code of a job may hold a slash."""

    @app.server.route("/jobs/<path:name>")
    def job_sheet_page(name: str) -> flask.Response:
        job, dot, form = name.rpartition(".")
        if not dot or form not in TYPES:
            flask.abort(404)
        shop = answers.shop
        try:
            sheet = job_sheet(shop, job, as_of_us=answers.quick_as_of_us())
        except NotFound:
            flask.abort(404)
        document = sheet_document(sheet, shop_name=shop.name, zone=shop.zone)
        return flask.Response(FORMS[f".{form}"](document), mimetype=TYPES[form])
