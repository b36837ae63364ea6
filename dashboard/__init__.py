"""The dashboard: pages in the browser, drawn from what the desk answers."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dash import Dash


def create_app(
    place: str, *, as_of_us: int | None = None, clock_us: Callable[[], int] | None = None
) -> Dash:
    """The dashboard of the shop whose store is at ``place``; see `dashboard.app.create_app`."""
    from dashboard.app import create_app as create

    return create(place, as_of_us=as_of_us, clock_us=clock_us)
