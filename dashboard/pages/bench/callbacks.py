"""What the bench's page asks the server: its lists, how a job stands, what is off; and saving.

The bench is a page of its own, not one of Dash's: it must open and record while the server cannot
be reached, and lose nothing.
"""

from __future__ import annotations

import functools
import json
import logging
from collections.abc import Callable
from pathlib import Path
from typing import Any

import flask
from dash import Dash

from dashboard.answers import Answers
from dashboard.formats import Clock
from dashboard.pages.bench.document import bench_page
from dashboard.pages.bench.messages import (
    in_use_only,
    lists_message,
    outcome_message,
    read_entries,
    signs_message,
    standing_message,
)
from dashboard.same_origin import from_own_page
from qc.desk.bench import bench_lists, job_standing, recipe_now
from qc.desk.floor import FLAG_FIELDS, touches
from qc.desk.in_use import retired
from qc.desk.recording import record_entries
from qc.errors import InputError, QcError, StoreError

log = logging.getLogger(__name__)
WORKER = Path(__file__).parent.parent.parent / "assets" / "bench" / "worker.js"
_MOST_BYTES = 2_000_000


def register(app: Dash, answers: Answers) -> None:
    """The bench's addresses."""
    server = app.server

    @server.get("/bench")
    def bench() -> str:
        return bench_page(answers.shop.name)

    @server.get("/bench-worker.js")
    def worker() -> flask.Response:
        return flask.send_file(WORKER, mimetype="text/javascript", max_age=0)

    @server.get("/bench/lists")
    @_answered
    def lists() -> Any:
        found = answers.quick("bench lists", lambda now: bench_lists(answers.shop, as_of_us=now))
        found = in_use_only(found, retired(answers.shop, as_of_us=answers.quick_as_of_us()))
        return lists_message(found, answers.shop, now_us=answers.now_us(), live=answers.is_live)

    @server.get("/bench/job")
    @_answered
    def job() -> Any:
        work = {name: flask.request.args.get(name, "") for name in (
            "job", "fabric", "transfer", "location")}
        now_us = answers.quick_as_of_us()
        standing = job_standing(
            answers.shop, job=work["job"], fabric=work["fabric"], transfer=work["transfer"],
            location=work["location"] or None, as_of_us=now_us)
        recipe = recipe_now(answers.shop, fabric=work["fabric"], transfer=work["transfer"],
                            as_of_us=now_us)
        return standing_message(standing, recipe, answers.shop, job=work["job"],
                                now_us=answers.now_us())

    @server.get("/bench/signs")
    @_answered
    def signs() -> Any:
        runs = {name: flask.request.args.get(name) or None for name in FLAG_FIELDS}
        press = runs["press"] or ""
        flags = tuple(flag for flag in answers.flags().flags
                      if flag.is_open and touches(flag, press, runs))
        platens = tuple(one for one in answers.health() if one.press == press)
        return {"signs": signs_message(flags, platens, Clock(answers.shop.zone))}

    @server.post("/bench/entries")
    @_answered
    def entries() -> Any:
        request = flask.request
        if not from_own_page(request) or (request.content_length or 0) > _MOST_BYTES:
            flask.abort(403)
        if not answers.is_live:
            raise InputError("this dashboard looks back; pieces are recorded on one that shows now")
        device, sent, refused = read_entries(request.get_json(silent=True))
        now_us = answers.now_us()
        outcomes = [*refused, *record_entries(answers.shop, sent, device=device, at_us=now_us)]
        return {"now_ms": now_us / 1000, "outcomes": [outcome_message(one, answers.shop)
                                                       for one in outcomes]}


def _answered(ask: Callable[[], Any]) -> Callable[[], flask.Response]:
    """A JSON answer; what goes wrong is said in it, and the device can tell whether to try again:
    503 yes, 400 no."""

    @functools.wraps(ask)
    def answered() -> flask.Response:
        try:
            answer, status = ask(), 200
        except StoreError as error:
            log.warning("the bench's store could not be used: %s", error)
            answer, status = {"error": str(error)}, 503
        except QcError as error:
            answer, status = {"error": str(error)}, 400
        # by hand: Flask's own way sorts names, and jobs and faults come in a wanted order
        return flask.Response(json.dumps(answer, ensure_ascii=False), status=status,
                              mimetype="application/json", headers={"Cache-Control": "no-store"})

    return answered
