"""`qc serve`: the dashboard, for this shop's store."""

from __future__ import annotations

import threading
import webbrowser
from collections.abc import Callable
from typing import Annotated

import typer

from qc.cli.shared import AsOf, Store, say
from qc.cli.shared import as_of_us as moment
from qc.errors import InputError

Host = Annotated[str, typer.Option("--host", help="Address to listen on; 0.0.0.0 for the network.")]
Port = Annotated[int, typer.Option("--port", min=0, max=65535, help="Port; 0 takes a free one.")]
THREADS = 16
"""Some may wait for the flags of a long history; enough are left to bring the pages."""


def register(app: typer.Typer) -> None:
    """Add `qc serve`."""
    app.command("serve")(serve)


def serve(
    host: Host = "127.0.0.1", port: Port = 8050, as_of: AsOf = None, store: Store = None,
) -> None:
    """Show the dashboard in the browser until stopped with Ctrl+C."""
    from qc.config import store_location
    from qc.desk.shop import open_shop

    place = store_location(store)
    as_of_us = None
    if as_of is not None:
        as_of_us = moment(as_of, open_shop(place))
    serve_dashboard(place, host, port, as_of_us=as_of_us)


def serve_dashboard(
    place: str, host: str, port: int, *, as_of_us: int | None = None,
    clock_us: Callable[[], int] | None = None, open_browser: bool = False,
) -> None:
    """Serve the dashboard of the store at ``place`` until interrupted.

    ``as_of_us`` looks back from a fixed moment; ``clock_us`` tells the time of a shop that is not
    of today. InputError where the port cannot be had.
    """
    from waitress.server import create_server

    from dashboard import create_app

    app = create_app(place, as_of_us=as_of_us, clock_us=clock_us)
    try:
        server = create_server(app.server, host=host, port=port, threads=THREADS, ident=None)
    except (OSError, ValueError) as error:
        raise InputError(f"cannot listen on {host} port {port} ({error}); "
                         "choose another with --port") from None
    address = f"http://{_shown(host)}:{_port_of(server, port)}/"
    say(f"dashboard at {address} (stop with Ctrl+C)")
    if host not in ("127.0.0.1", "localhost", "::1"):
        say("anybody who can reach this machine can read the shop's records at this address, and "
            "record and change them")
    if open_browser:
        threading.Timer(0.5, webbrowser.open, args=(address,)).start()
    try:
        server.run()
    finally:
        server.close()


def _shown(host: str) -> str:
    return "127.0.0.1" if host in ("0.0.0.0", "::", "") else host


def _port_of(server: object, asked: int) -> int:
    return int(getattr(server, "effective_port", asked) or asked)
