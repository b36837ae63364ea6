"""A press on the list whose platen nobody surveyed: every page asks for the same first survey."""

from __future__ import annotations

from pathlib import Path

import pytest
from dash import Dash

from dashboard import create_app, text
from qc.desk.in_use import retire
from qc.desk.keeping import RecordWritten, keep_record
from qc.desk.shop import open_shop
from tests.dashboard.asking import callback, words
from tests.dashboard.small_shop import END_US


@pytest.fixture(scope="module")
def listed(tmp_path_factory: pytest.TempPathFactory) -> Dash:
    """A shop with a press that is used and one that is not, and nothing else."""
    place: Path = tmp_path_factory.mktemp("listed") / "shop.db"
    shop = open_shop(str(place), create=True)
    for press in ("Anvil", "Brook"):
        keep_record(shop, RecordWritten(kind="presses", texts={"press": press}), by="Ann",
                    at_us=END_US - 2)
    retire(shop, "presses", "Brook", by="Ann", at_us=END_US - 1)
    shop.store.close()
    return create_app(str(place), as_of_us=END_US)


def said(app: Dash, output: str, **given: object) -> str:
    return words(callback(app, f"{output}.children", **given)[output]["children"])


def test_board_floor_and_checks_to_come_ask_for_the_first_survey(listed: Dash) -> None:
    assert text.FIRST_DUE in said(listed, "presses-board", address__search="")
    floor = said(listed, "floor-cards", address__search="")
    assert text.FLOOR_FIRST_CHECK in floor and text.FLOOR_NO_CHECK not in floor
    due = said(listed, "presses-due", tick__n_intervals=0)
    assert "Anvil, upper platen" in due and text.with_capital(text.FIRST_DUE) in due


def test_a_press_that_is_no_longer_used_waits_for_no_survey(listed: Dash) -> None:
    assert "Brook" not in said(listed, "presses-due", tick__n_intervals=0)
