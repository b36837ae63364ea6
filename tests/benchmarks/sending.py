"""A file sent as a plain request beside the same file through a callback: time, and memory.

Each way has a server of its own process, waitress as in the shop. Wanted: the plain request takes
at most half of the time and of the memory.
"""

from __future__ import annotations

import argparse
import base64
import json
import multiprocessing
import resource
import tempfile
import time
import urllib.request
from typing import Any

import flask

from dashboard.receiving import Received, register
from dashboard.same_origin import HEADER
from tests.benchmarks.measuring import heading, say, verdict

WANTED = 0.5
RUN = "0" * 32


def plain_app() -> flask.Flask:
    """What the dashboard does with a file."""
    server = flask.Flask("plain")
    register(server, Received(), lambda: True)
    return server


def callback_app() -> flask.Flask:
    """What a callback does with a file that it keeps."""
    from dash import Dash, Input, Output, dcc, html

    app = Dash("callback", suppress_callback_exceptions=True)
    app.layout = html.Div([dcc.Upload(id="upload"), html.Div(id="said")])

    @app.callback(Output("said", "children"), Input("upload", "contents"))
    def keep(contents: str) -> str:
        with tempfile.NamedTemporaryFile() as out:
            out.write(base64.b64decode(contents.partition(",")[2]))
        return "kept"

    return app.server


def serve(way: str, ports: Any) -> None:
    """A server in a process of its own; it also tells its largest memory so far, in MB."""
    from waitress.server import create_server

    server = plain_app() if way == "plain" else callback_app()

    @server.route("/memory")
    def memory() -> str:
        return str(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)

    made = create_server(server, host="127.0.0.1", port=0, threads=2)
    ports.put(made.effective_port)
    made.run()


def request_of(way: str, address: str, content: bytes) -> urllib.request.Request:
    """A file as a browser sends it."""
    if way == "plain":
        return urllib.request.Request(f"{address}/records/files?name=a.csv", content,
                                      {HEADER: RUN, "Content-Type": "application/octet-stream"})
    value = "data:text/csv;base64," + base64.b64encode(content).decode()
    body = {"output": "said.children", "outputs": {"id": "said", "property": "children"},
            "changedPropIds": ["upload.contents"], "state": [],
            "inputs": [{"id": "upload", "property": "contents", "value": value}]}
    return urllib.request.Request(f"{address}/_dash-update-component", json.dumps(body).encode(),
                                  {"Content-Type": "application/json"})


def measure(way: str, content: bytes) -> tuple[float, float]:
    """Seconds until it is kept, and by how many MB the server grew at most."""
    context = multiprocessing.get_context("spawn")
    ports = context.Queue()
    process = context.Process(target=serve, args=(way, ports), daemon=True)
    process.start()
    address = f"http://127.0.0.1:{ports.get(timeout=60)}"

    def memory() -> float:
        with urllib.request.urlopen(f"{address}/memory") as answer:
            return float(answer.read())

    before = memory()
    request = request_of(way, address, content)
    start = time.perf_counter()
    with urllib.request.urlopen(request) as answer:
        answer.read()
    took = time.perf_counter() - start
    grown = memory() - before
    process.terminate()
    process.join()
    return took, grown


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--mb", type=int, default=150)
    wanted = parser.parse_args()
    heading("A file as a plain request beside a callback", "tests.benchmarks.sending")
    row = b"A-1001,2025-03-03T07:42Z,P1,fleece,foam,left_chest,J-118,L-52,Ana,152,12,\n"
    content = row * (wanted.mb * 1024 * 1024 // len(row))
    figures = {way: measure(way, content) for way in ("plain", "callback")}
    for way, (took, grown) in figures.items():
        say(f"  {way:9} {wanted.mb} MB in {took:5.2f} s, the server grew by {grown:7.1f} MB")
    ratios = [ours / theirs for ours, theirs in zip(*figures.values(), strict=True)]
    met = [verdict("times the time of a callback", ratios[0], at_most=WANTED),
           verdict("times its memory", ratios[1], at_most=WANTED)]
    return 0 if all(met) else 1


if __name__ == "__main__":
    raise SystemExit(main())
