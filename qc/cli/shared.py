"""What every command shares: options, the store it works on, and how it answers."""

from __future__ import annotations

import json
import math
import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from rich.console import Console

    from qc.desk.shop import Shop

Store = Annotated[
    str | None,
    typer.Option(
        "--store", metavar="PLACE", show_default=False,
        help="SQLite file or database URL; else QC_STORE, else shop.db here.",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Answer as JSON on standard output.")]
AsOf = Annotated[
    str | None,
    typer.Option(
        "--as-of", metavar="TIME", show_default=False,
        help="Answer as of this time, using nothing recorded as happening later; default: now.",
    ),
]


def now_us() -> int:
    """This moment, microseconds UTC: the one place where a command reads the clock."""
    return time.time_ns() // 1000


def open_store(place: str | None, *, create: bool = False) -> Shop:
    """The shop at the place given; StoreError in words where it cannot be opened."""
    from qc.config import store_location
    from qc.desk.shop import open_shop

    return open_shop(store_location(place), create=create)


def as_of_us(text: str | None, shop: Shop) -> int:
    """The moment to look back from."""
    from qc.domain.instants import parse_instant

    return now_us() if text is None else parse_instant(text, shop.zone)


def print_json(answer: Any) -> None:
    """JSON alone on standard output; NaN and infinity become null."""
    sys.stdout.write(json.dumps(_plain(answer), ensure_ascii=False, allow_nan=False) + "\n")


def answer(result: Any, *, as_json: bool, to_json: Callable[[Any], Any],
           to_text: Callable[[Any, Console], None]) -> None:
    """Answer with a result: JSON, or text for people in the terminal."""
    if as_json:
        print_json(to_json(result))
        return
    from rich.console import Console

    to_text(result, Console())


def say(text: str) -> None:
    """A message to the person, on standard error."""
    sys.stderr.write(f"{text}\n")


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if hasattr(value, "item") and not isinstance(value, str):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
