"""A survey written down by hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from qc.desk.entering import SurveyWritten, enter_survey
from qc.desk.presses import press_health
from qc.desk.service import OrderWanted, open_order
from qc.desk.shop import Shop, open_shop
from qc.errors import Conflict, FormError, InputError
from qc.store.records import add_records, read_records

NOW = int(pd.Timestamp("2025-06-12T18:00Z").timestamp() * 1e6)
GOOD = {(row, col): f"{159 + 0.5 * row}" for row in (1, 2, 3) for col in (1, 2, 3)}
WRITTEN = SurveyWritten(press="P1", platen="upper", state="routine", setpoint="160",
                        readings=GOOD, unit="c")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = open_shop(str(tmp_path / "shop.db"), create=True)
    presses = pd.DataFrame({"press": ["P1"], "temperature_tolerance_c": [5.0]})
    add_records(made.store, "presses", presses, by="ann", at_us=NOW - 9, source=None)
    yield made
    made.store.close()


def test_it_counts_like_one_from_a_file(shop: Shop) -> None:
    kept = enter_survey(shop, WRITTEN, by="Rui", at_us=NOW)
    assert (kept.n_points, kept.already_there) == (9, False)
    (health,) = press_health(shop, as_of_us=NOW)
    assert health.offset_c == pytest.approx(0.0)
    assert health.last_survey_at_us == NOW
    assert any("names no instrument" in said or "no instrument" in said for said in kept.cautions)


def test_kept_twice_it_is_there_once(shop: Shop) -> None:
    enter_survey(shop, WRITTEN, by="Rui", at_us=NOW)
    assert enter_survey(shop, WRITTEN, by="Rui", at_us=NOW).already_there
    assert len(read_records(shop.store, "platen_readings")) == 9


def test_a_different_one_of_the_same_minute_is_refused(shop: Shop) -> None:
    enter_survey(shop, WRITTEN, by="Rui", at_us=NOW)
    other = replace(WRITTEN, readings=GOOD | {(1, 1): "150"})
    with pytest.raises(Conflict, match="a time of its own"):
        enter_survey(shop, other, by="Rui", at_us=NOW)


def test_points_left_empty_are_said(shop: Shop) -> None:
    kept = enter_survey(shop, replace(WRITTEN, readings=GOOD | {(2, 2): " "}), by="Rui", at_us=NOW)
    assert kept.n_points == 8
    assert any("row 2, column 2" in said for said in kept.cautions)


def test_the_other_unit_is_asked_about_once_and_never_converted(shop: Shop) -> None:
    fahrenheit = replace(WRITTEN, readings=dict.fromkeys(GOOD, "320"))
    with pytest.raises(InputError) as refused:
        enter_survey(shop, fahrenheit, by="Rui", at_us=NOW)
    assert str(refused.value).count("near it in the other unit") == 1
    assert len(read_records(shop.store, "platen_readings")) == 0
    kept = enter_survey(shop, replace(fahrenheit, as_read=True), by="Rui", at_us=NOW)
    assert kept.n_points == 9
    assert read_records(shop.store, "platen_readings")["reading_c"].iloc[0] == 320


def test_a_shop_that_reads_fahrenheit_is_converted_from_it(shop: Shop) -> None:
    enter_survey(shop, replace(WRITTEN, unit="f", setpoint="320", readings={(1, 1): "311"}),
                 by="Rui", at_us=NOW)
    row = read_records(shop.store, "platen_readings").iloc[0]
    assert (row["setpoint_c"], row["reading_c"]) == (pytest.approx(160), pytest.approx(155))


@pytest.mark.parametrize(("change", "told"), [
    ({"readings": {(1, 1): ""}}, "no reading"),
    ({"readings": GOOD | {(1, 2): "999"}}, "row 1, column 2"),
    ({"readings": GOOD | {(3, 3): "hot"}}, "row 3, column 3"),
    ({"readings": GOOD | {(1, 1): "abc"}},
     "^the reading at row 1, column 1 is 'abc': write a number$"),
    ({"setpoint": ""}, "^the setpoint is empty: write it down$"),
    ({"setpoint": "1600"}, "^the setpoint is 1600: allowed are 0 to 400 °C$"),
    ({"press": "P9"}, "^press 'P9' is not on the list of presses$"),
    ({"state": "later"}, "as found"),
    ({"press": "P9"}, "P9"),
    ({"when": "yesterday"}, "is not a time"),
    ({"when": "2025-06-13T18:00Z"}, "ahead of now"),
])
def test_what_cannot_be_is_refused(shop: Shop, change: dict[str, object], told: str) -> None:
    with pytest.raises(InputError, match=told):
        enter_survey(shop, replace(WRITTEN, **change), by="Rui", at_us=NOW)  # type: ignore[arg-type]
    assert len(read_records(shop.store, "platen_readings")) == 0


def test_under_an_order_found_comes_before_left(shop: Shop) -> None:
    open_order(shop, OrderWanted(press="P1", platen="upper", why="smells"), by="Rui",
               at_us=NOW - 1)
    left = replace(WRITTEN, state="as_left")
    with pytest.raises(Conflict, match="no survey as found yet"):
        enter_survey(shop, left, by="Rui", at_us=NOW)
    enter_survey(shop, replace(WRITTEN, state="as_found"), by="Rui", at_us=NOW)
    assert enter_survey(shop, left, by="Rui", at_us=NOW + 60_000_000).n_points == 9


def test_a_decimal_comma_is_a_number(shop: Shop) -> None:
    commas = {at: reading.replace(".", ",") for at, reading in GOOD.items()}
    enter_survey(shop, replace(WRITTEN, readings=commas, setpoint="160,5"), by="Rui", at_us=NOW)
    rows = read_records(shop.store, "platen_readings")
    assert set(rows["reading_c"]) == {159.5, 160.0, 160.5} and set(rows["setpoint_c"]) == {160.5}


def test_what_is_wrong_is_said_at_its_box(shop: Shop) -> None:
    wrong = replace(WRITTEN, readings=GOOD | {(1, 2): "x", (3, 3): "999"}, setpoint="hot")
    with pytest.raises(FormError) as refused:
        enter_survey(shop, wrong, by="Rui", at_us=NOW)
    assert set(refused.value.by_field) == {"1,2", "3,3", "setpoint"}
    with pytest.raises(FormError) as refused:
        enter_survey(shop, replace(WRITTEN, when="yesterday"), by="Rui", at_us=NOW)
    assert set(refused.value.by_field) == {"when"}
