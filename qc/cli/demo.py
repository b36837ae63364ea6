"""`qc demo`: an invented shop to look around in."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from qc.cli.shared import say

DEFAULT_FILE = "demo_shop.db"


def register(app: typer.Typer) -> None:
    """Add `qc demo`."""
    app.command("demo")(demo)


def demo(
    no_browser: Annotated[bool, typer.Option(
        "--no-browser", help="Do not open a browser window.")] = False,
    port: Annotated[int, typer.Option(
        "--port", min=0, max=65535, help="Port; 0 takes a free one.")] = 8050,
    store: Annotated[str | None, typer.Option(
        "--store", metavar="FILE", show_default=False,
        help=f"SQLite file to build it in; default: {DEFAULT_FILE} in the current folder. "
             "QC_STORE is not used, that is a real shop.")] = None,
) -> None:
    """Build the invented demo shop in a new store and open the dashboard on it."""
    from demo_data import demo_spec, end_of
    from qc.cli.serve import serve_dashboard
    from qc.domain.instants import iso

    spec = demo_spec()
    place, ready = _place(store, spec.name)
    if ready:
        say(f"{spec.name} is in {place} already; nothing was built")
    else:
        _build(place)
    end_us = end_of(spec)
    say(f"{spec.name} is invented: {spec.days} days up to {spec.until}, {len(spec.presses)} "
        f"presses, about {spec.n_pieces:,} pieces; its clock runs on from its last evening")
    say(f"the same in the terminal: qc flags --store {place} --as-of {iso(end_us, spec.tz)}")
    serve_dashboard(str(place), "127.0.0.1", port, clock_us=_clock(place, end_us),
                    open_browser=not no_browser)


def _clock(place: Path, end_us: int) -> Callable[[], int]:
    """The demo shop's time: from its last evening, or from the newest thing done in it, so that
    what was done yesterday is not still to come."""
    from qc.cli.shared import now_us
    from qc.desk.shop import newest_moment_us, open_shop

    shop = open_shop(str(place))
    ahead = now_us() - max(end_us, newest_moment_us(shop))
    shop.store.close()
    return lambda: now_us() - ahead


def _place(given: str | None, name: str) -> tuple[Path, bool]:
    """Where the demo is or will be, and whether it is there already; nothing is overwritten."""
    from demo_data.building import is_shop
    from qc.errors import InputError

    if given is not None and "://" in given:
        raise InputError(f"--store is {given!r}; qc demo builds a SQLite file, name one")
    place = Path(given or DEFAULT_FILE)
    number = 2
    while place.exists():
        if is_shop(place, name):
            return place, True
        if given is not None:
            raise InputError(f"{place} is not a demo shop and stays as it is; name a new file")
        say(f"{place} is not a demo shop and stays as it is")
        place = Path(DEFAULT_FILE).with_stem(f"demo_shop_{number}")
        number += 1
    return place, False


def _build(place: Path) -> None:
    import time

    from demo_data import demo_shop
    from demo_data.building import build_store
    from qc.config import user_name

    begun = time.monotonic()
    say(f"building the demo shop in {place}")
    build_store(demo_shop(), place, by=user_name(), progress=lambda words: say(f"  {words}"))
    say(f"built in {time.monotonic() - begun:.0f} s")
