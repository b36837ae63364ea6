"""The Presses page says what was set beside the recipes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from dash import Dash

from dashboard import create_app, text
from qc.desk.shop import change_setting, open_shop
from tests.dashboard.asking import callback, words
from tests.qc.desk.recipe_shop import END_US, build_shop


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    folder = tmp_path_factory.mktemp("recipes")
    shop = build_shop(folder)
    yield folder / "shop.db"
    shop.store.close()


@pytest.fixture(scope="module")
def app(place: Path) -> Dash:
    return create_app(str(place), as_of_us=END_US)


def section(app: Dash) -> dict:
    found: dict = callback(app, "presses-settings.children", tick__n_intervals=0)
    return found["presses-settings"]["children"]


def test_the_worst_stand_first_with_who_what_and_when(app: Dash) -> None:
    said = words(section(app))
    heat, dwell, good = (said.index(part) for part in (
        "Brook Actual temperature", "Anvil Dwell", text.SETTINGS_GOOD.format(n=5)))
    assert heat < dwell < good
    for part in ("150 of 290", "51.7\u202f%", "46.0 to 57.4\u202f%", "+3.0 s", "0.0 to +3.0",
                 "16 Jan to 30 Jan", "By Ana 100 of 190, Rui 50 of 100",
                 "On rib with film 150 of 290", "150 still as the version before",
                 "firm, not medium", "parchment, not matt sheet", "Wilson, 1927", "14 days old",
                 text.CAUTION_TITLE, "1\u202f450 pieces pressed in the last 30 days"):
        assert part in said, part


def test_what_is_inside_and_what_cannot_be_told_is_folded_away(app: Dash) -> None:
    def folded(tree: object) -> Iterator[str]:
        if isinstance(tree, list):
            for item in tree:
                yield from folded(item)
        elif isinstance(tree, dict):
            if tree.get("type") == "Details":
                assert not tree["props"].get("open")
                yield words(tree)
            yield from folded(tree.get("props", {}).get("children"))

    good, untold = folded(section(app))
    assert "Brook Temperature shown" in good and "Inside" in good
    assert "dwell and gauge pressure at Dune: asked for by the recipes, not recorded" in untold


def test_no_recipes_no_section(empty_app: Dash) -> None:
    assert section(empty_app) is None


def test_a_changed_setting_counts_at_once_and_units_are_the_shops(tmp_path: Path) -> None:
    shop = build_shop(tmp_path, temperature_unit="f")
    app = create_app(str(tmp_path / "shop.db"), as_of_us=END_US)
    assert "−17.1 °F" in words(section(app))
    change_setting(shop, name="survey_valid_days", value="1", by="test", at_us=END_US)
    said = words(section(app))
    shop.store.close()
    assert "at most 1 day old" in said and "20 of 20" in said


def test_the_store_is_only_read(place: Path, app: Dash) -> None:
    opened = open_shop(str(place))
    before = opened.store.change_number()
    section(app)
    assert opened.store.change_number() == before
    opened.store.close()
