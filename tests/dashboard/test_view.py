"""View state in the address: every view is a link, and a bad link still opens its page."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.pages.trends.callbacks import chosen_view
from dashboard.view import (
    ANY_DEFECT,
    NOT_SAID,
    PERIODS,
    CasesView,
    PressesView,
    RecordsView,
    TrendsView,
    address,
    point_us,
    read_view,
    records_address,
)
from qc.domain.ranking import DIMENSIONS

views = st.builds(
    TrendsView, period=st.sampled_from(PERIODS), step=st.sampled_from(["day", "week"]),
    kind=st.text(max_size=20), by=st.sampled_from(DIMENSIONS),
    then=st.sampled_from(["", *DIMENSIONS]), open=st.text(max_size=20),
    level=st.text(max_size=30), level2=st.text(max_size=30),
)


@given(views)
def test_a_view_comes_back_from_its_address(view: TrendsView) -> None:
    assert read_view(TrendsView, address(view)) == view


@given(st.text(max_size=200))
def test_any_address_opens_the_page(search: str) -> None:
    view = read_view(TrendsView, f"?{search}")
    assert view.period in PERIODS and view.by in DIMENSIONS


def test_the_default_view_has_the_bare_address() -> None:
    assert address(TrendsView()) == "" and address(CasesView(flag="a&b")) == "?flag=a%26b"
    assert read_view(PressesView, "?press=P4&platen=sideways") == PressesView(press="P4")
    assert read_view(TrendsView, None) == TrendsView()


@pytest.mark.parametrize(("text", "stretch"), [
    ("10..20", (10, 20)), ("level", None), ("", None), ("..5", None), ("a..b", None),
])
def test_a_point_in_the_address(text: str, stretch: tuple[int, int] | None) -> None:
    assert point_us(text) == stretch


def test_choices_make_a_view() -> None:
    view = chosen_view(TrendsView(), {"period": "7", "step": "week", "kind": "any",
                                      "by": "press", "then": "press"})
    assert view == TrendsView(period="7", step="week", by="press", then="")


def test_any_number_leads_to_its_records() -> None:
    there = records_address([("press", "P 4/5"), ("operator", None), ("shop", None)],
                            kind=ANY_DEFECT, since_us=1_000, until_us=2_000)
    path, query, asked = there.partition("?")
    assert path == "/records"
    assert read_view(RecordsView, query + asked) == RecordsView(
        press="P 4/5", operator=NOT_SAID, defect=ANY_DEFECT, since="1000", until="2000")
    assert records_address() == "/records"
    assert read_view(RecordsView, records_address(
        [("defect", "scorch")], kind="bubble").removeprefix("/records")).defect == "scorch"


@pytest.mark.parametrize("name", DIMENSIONS)
def test_records_are_found_by_every_dimension(name: str) -> None:
    there = records_address([(name, "x")]).removeprefix("/records")
    assert getattr(read_view(RecordsView, there), name) == "x"
