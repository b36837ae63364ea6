"""One small shop for all tests of the dashboard."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from dash import Dash

from dashboard import create_app
from qc.desk.shop import Shop
from tests.dashboard.small_shop import END_US, build_shop


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """The small shop, open."""
    made = build_shop(tmp_path_factory.mktemp("shop"))
    yield made
    made.store.close()


@pytest.fixture(scope="session")
def app(shop: Shop) -> Dash:
    """The real app, as of the end of the shop's records."""
    return create_app(shop.store.location, as_of_us=END_US)


@pytest.fixture(scope="session")
def empty_app(tmp_path_factory: pytest.TempPathFactory) -> Dash:
    """The app on a store in which nothing was ever recorded."""
    from qc.desk.shop import open_shop

    place = str(tmp_path_factory.mktemp("empty") / "shop.db")
    open_shop(place, create=True).store.close()
    return create_app(place, as_of_us=END_US)
