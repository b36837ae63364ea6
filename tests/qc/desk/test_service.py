"""A service order from its opening to its closing check, from files and a store."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import pandas as pd
import pytest

from qc.desk.loading import LoadRequest, load_files
from qc.desk.presses import press_health, survey_map
from qc.desk.service import (
    OrderWanted,
    PlatensKnown,
    open_order,
    pressed_meanwhile,
    service_order,
    service_orders,
    take_step,
)
from qc.desk.shop import Shop, change_setting, open_shop
from qc.domain.service_words import decision_with_caution, found_several, survey_words
from qc.errors import Conflict, InputError, NotFound


def us(text: str) -> int:
    return int(pd.Timestamp(text).timestamp() * 1e6)


OPENED = us("2025-06-10T09:00Z")
NOW = us("2025-06-12T18:00Z")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = open_shop(str(tmp_path / "shop.db"), create=True)
    presses = pd.DataFrame({"press": ["P1", "P2"], "temperature_tolerance_c": 5,
                            "uniformity_tolerance_c": 8, "check_every_days": 7})
    looks = pd.DataFrame({
        "piece_id": [f"B{i}" for i in range(12)],
        "inspected_at": [f"2025-06-{day:02d}T10:00Z" for day in range(1, 13)],
        "press": ["P1"] * 11 + ["P2"], "fabric": "fleece", "transfer": "film",
        "location": "back", "job": "J1", "defects": "",
    })
    load(made, tmp_path, presses=presses)
    load(made, tmp_path, looks=looks, good=survey("good", "2025-06-02T06:00Z", 0),
         worse=survey("worse", "2025-06-09T06:00Z", -6))
    yield made
    made.store.close()


def load(shop: Shop, tmp_path: Path, **frames: pd.DataFrame) -> None:
    paths = []
    for name, frame in frames.items():
        path = tmp_path / f"{name}.csv"
        frame.to_csv(path, index=False)
        paths.append(str(path))
    report = load_files(shop, LoadRequest(paths=tuple(paths), new_codes=True), by="ann", at_us=NOW)
    assert report.exit_code == 0, report


NINE = [(r, c) for r in (1, 2, 3) for c in (1, 2, 3)]


def survey(
    name: str, at: str, offset: float, state: str = "routine",
    rows: Sequence[tuple[int, int]] = NINE,
) -> pd.DataFrame:
    return pd.DataFrame({
        "survey_id": name, "measured_at": at, "press": "P1", "platen": "upper",
        "setpoint_c": 160, "row": [r for r, _ in rows], "col": [c for _, c in rows],
        "reading_c": [160 + offset + 0.1 * c for _, c in rows], "state": state,
    })


def opened(shop: Shop) -> str:
    order = open_order(shop, OrderWanted(press="P1", platen="upper"), by="Ann", at_us=OPENED)
    return order.order_id


def state(shop: Shop, order_id: str) -> str:
    return service_order(shop, order_id, as_of_us=NOW).state


def test_from_opening_to_closing(shop: Shop, tmp_path: Path) -> None:
    order_id = opened(shop)
    assert state(shop, order_id) == "find"
    load(shop, tmp_path, found=survey("found", "2025-06-11T07:00Z", -6.2, "as_found"))
    standing = service_order(shop, order_id, as_of_us=NOW)
    assert standing.state == "leave"
    assert standing.pressed is not None
    # pressed from the good survey of the 2nd at 06:00 to what was found on the 11th at 07:00
    assert standing.pressed.n_pieces == 9
    assert standing.pressed.last_good is not None
    assert standing.pressed.last_good.survey_id == "good"
    assert standing.pressed.by_status == (("in_house", 9),)
    load(shop, tmp_path, left=survey("left", "2025-06-11T09:00Z", -5.6, "as_left"))
    assert state(shop, order_id) == "check"
    with pytest.raises(Conflict, match="adjust again"):
        take_step(shop, order_id, "close", by="Ann", at_us=NOW)
    load(shop, tmp_path, again=survey("again", "2025-06-11T11:00Z", 0.2, "as_left"))
    assert state(shop, order_id) == "ready"
    take_step(shop, order_id, "done", "new thermocouple", by="Rui", at_us=NOW)
    done = take_step(shop, order_id, "close", by="Ann", at_us=NOW)
    assert done.state == "closed"
    assert done.check is not None
    assert done.check.survey_id == "again"


def test_as_left_without_as_found_cannot_be_closed(shop: Shop, tmp_path: Path) -> None:
    order_id = opened(shop)
    load(shop, tmp_path, left=survey("left", "2025-06-11T09:00Z", 0, "as_left"))
    assert state(shop, order_id) == "order_wrong"
    with pytest.raises(Conflict, match="not as found"):
        take_step(shop, order_id, "close", by="Ann", at_us=NOW)
    assert take_step(shop, order_id, "cancel", "adjusted first", by="Ann", at_us=NOW).state == (
        "cancelled")


def test_found_good_is_closed_without_an_adjustment(shop: Shop, tmp_path: Path) -> None:
    order_id = opened(shop)
    load(shop, tmp_path, found=survey("found", "2025-06-11T07:00Z", -1, "as_found"))
    standing = service_order(shop, order_id, as_of_us=NOW)
    assert standing.state == "ready"
    assert standing.pressed is None
    with pytest.raises(InputError, match="no pieces to list"):
        pressed_meanwhile(shop, standing, as_of_us=NOW)
    assert take_step(shop, order_id, "close", by="Ann", at_us=NOW).state == "closed"


def test_what_comes_after_an_order_is_not_its_own(shop: Shop, tmp_path: Path) -> None:
    order_id = opened(shop)
    load(shop, tmp_path, found=survey("found", "2025-06-11T07:00Z", -1, "as_found"))
    take_step(shop, order_id, "close", by="Ann", at_us=us("2025-06-11T08:00Z"))
    load(shop, tmp_path, later=survey("later", "2025-06-12T07:00Z", -9, "as_found"))
    standing = service_order(shop, order_id, as_of_us=NOW)
    assert standing.state == "closed"
    assert standing.found is not None
    assert standing.found.survey_id == "found"


def test_the_pieces_are_listed_with_where_they_are(shop: Shop, tmp_path: Path) -> None:
    order_id = opened(shop)
    load(shop, tmp_path, found=survey("found", "2025-06-11T07:00Z", -6.2, "as_found"))
    shipped = pd.DataFrame({"job": ["J1"], "shipped_at": ["2025-06-05T18:00Z"]})
    load(shop, tmp_path, jobs=shipped)
    standing = service_order(shop, order_id, as_of_us=NOW)
    pieces = pressed_meanwhile(shop, standing, as_of_us=NOW)
    assert {piece.piece_id for piece in pieces} == {f"B{i}" for i in range(1, 10)}
    assert standing.pressed is not None
    assert dict(standing.pressed.by_status) == {"shipped": 4, "in_house": 5}


def test_an_order_carries_what_was_known(shop: Shop) -> None:
    order = open_order(shop, OrderWanted(press="P1", platen="upper"), by="Ann", at_us=OPENED)
    assert order.reason in ("flag", "due")
    assert dict(order.evidence)["State of the platen"].startswith("Mean −5.8 °C")
    mine = open_order(shop, OrderWanted(press="P2", platen="upper", why="smells hot"), by="Ann",
                      at_us=OPENED)
    assert (mine.reason, mine.words) == ("person", "smells hot")
    listed = service_orders(shop, as_of_us=NOW)
    assert {one.order.order_id for one in listed} == {"S1", "S2"}


def test_what_is_not_there_is_said(shop: Shop) -> None:
    with pytest.raises(NotFound, match="P1 upper, P2 upper"):
        open_order(shop, OrderWanted(press="P9", platen="upper"), by="Ann", at_us=OPENED)
    with pytest.raises(NotFound, match="no flag 'f0'"):
        open_order(shop, OrderWanted(press="P1", platen="upper", flag_id="f0"), by="Ann",
                   at_us=OPENED)
    with pytest.raises(NotFound, match="S7"):
        service_order(shop, "S7", as_of_us=NOW)


def test_one_point_closes_no_order(shop: Shop, tmp_path: Path) -> None:
    """Whoever probes the centre alone cannot know what the corners do."""
    order_id = opened(shop)
    load(shop, tmp_path, found=survey("found", "2025-06-11T07:00Z", -6.2, "as_found"))
    load(shop, tmp_path,
         left=survey("left", "2025-06-11T09:00Z", 0, "as_left", rows=[(2, 2)]))
    standing = service_order(shop, order_id, as_of_us=NOW)
    assert standing.state == "check_few"
    assert "again at the 9 points of survey found" in standing.next_step
    with pytest.raises(Conflict, match="Too few points"):
        take_step(shop, order_id, "close", by="Ann", at_us=NOW)
    five = [(1, 1), (1, 3), (2, 2), (3, 1), (3, 3)]
    load(shop, tmp_path, five=survey("five", "2025-06-11T10:00Z", 0, "as_left", rows=five))
    assert state(shop, order_id) == "check_few"  # found with nine, so to be left with nine
    load(shop, tmp_path, nine=survey("nine", "2025-06-11T11:00Z", 0, "as_left"))
    assert state(shop, order_id) == "ready"


def test_one_point_as_found_is_not_good(shop: Shop, tmp_path: Path) -> None:
    order_id = opened(shop)
    load(shop, tmp_path,
         found=survey("found", "2025-06-11T07:00Z", 0, "as_found", rows=[(2, 2)]))
    standing = service_order(shop, order_id, as_of_us=NOW)
    assert standing.found is not None
    assert (standing.state, standing.found.good) == ("found_few", None)
    assert "spread not judged" in decision_with_caution(standing.found)
    (health, _) = press_health(shop, as_of_us=NOW)
    assert (health.state, health.decision) == ("unknown", "not_shown")
    assert "cannot be judged from one point" in health.reason
    # drawn where it lies among the nine of before, not as a platen of its own
    assert survey_map(shop, "P1", "upper", as_of_us=NOW).error_c.shape == (3, 3)


def test_a_point_that_is_out_is_out_however_few(shop: Shop, tmp_path: Path) -> None:
    order_id = opened(shop)
    load(shop, tmp_path,
         found=survey("found", "2025-06-11T07:00Z", -9, "as_found", rows=[(2, 2)]))
    assert state(shop, order_id) == "leave"
    load(shop, tmp_path,
         left=survey("left", "2025-06-11T09:00Z", 0, "as_left", rows=[(2, 2)]))
    standing = service_order(shop, order_id, as_of_us=NOW)
    assert standing.state == "check_few"  # one point covers what was found, not the last full one
    assert "the 9 points of survey worse" in standing.next_step


def test_a_shop_that_reads_degf_is_told_so_throughout(shop: Shop, tmp_path: Path) -> None:
    shop = change_setting(shop, name="temperature_unit", value="f", by="Ann", at_us=NOW)
    (health, _) = press_health(shop, as_of_us=NOW)
    assert health.reason.startswith("Mean −10.4 °F from the setpoint is beyond ±9.0 °F")
    order_id = opened(shop)
    load(shop, tmp_path, found=survey("found", "2025-06-11T07:00Z", -6.2, "as_found"))
    standing = service_order(shop, order_id, as_of_us=NOW)
    assert standing.found is not None
    said = survey_words(standing.found, shop.zone, "f")
    assert "mean −10.8 °F from 320 °F, spread 0.4 °F, 9 points, probe not named (±6.8 °F)" in said
    everything = [said, standing.order.words, *(value for _, value in standing.order.evidence)]
    assert all("°C" not in words for words in everything)


def test_what_is_wrong_with_a_probe_stands_beside_its_survey(shop: Shop, tmp_path: Path) -> None:
    order_id = opened(shop)
    load(shop, tmp_path, found=survey("found", "2025-06-11T07:00Z", -6.2, "as_found"))
    standing = service_order(shop, order_id, as_of_us=NOW)
    assert standing.found is not None
    assert decision_with_caution(standing.found).endswith(
        "so ±3.8 °C is taken for an unproven one")


def test_what_was_found_out_later_counts(shop: Shop, tmp_path: Path) -> None:
    order_id = opened(shop)
    load(shop, tmp_path, first=survey("first", "2025-06-11T07:00Z", 0, "as_found"))
    assert state(shop, order_id) == "ready"
    load(shop, tmp_path, second=survey("second", "2025-06-11T08:00Z", -8, "as_found"))
    standing = service_order(shop, order_id, as_of_us=NOW)
    assert standing.found is not None
    assert (standing.state, standing.found.survey_id, standing.n_found) == ("leave", "second", 2)
    assert found_several(standing).startswith("2 surveys as found; this one counts")
    load(shop, tmp_path, third=survey("third", "2025-06-11T08:30Z", 0, "as_found"))
    standing = service_order(shop, order_id, as_of_us=NOW)
    assert standing.found is not None and standing.found.survey_id == "second"
    load(shop, tmp_path, left=survey("left", "2025-06-11T09:00Z", 0, "as_left"))
    assert state(shop, order_id) == "ready"


def test_found_out_after_it_was_left_it_is_not_ready(shop: Shop, tmp_path: Path) -> None:
    order_id = opened(shop)
    load(shop, tmp_path, found=survey("found", "2025-06-11T07:00Z", -6.2, "as_found"),
         left=survey("left", "2025-06-11T09:00Z", 0, "as_left"))
    assert state(shop, order_id) == "ready"
    load(shop, tmp_path, again=survey("again", "2025-06-11T15:00Z", -7, "as_found"))
    assert state(shop, order_id) == "check"


def test_nobody_waits_for_what_is_known(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """With what has been worked out at hand an order is opened without looking for flags."""
    def slow(*given: object, **more: object) -> None:
        raise AssertionError("it went through the whole history")

    monkeypatch.setattr("qc.desk.service.current_flags", slow)
    monkeypatch.setattr("qc.desk.service.piece_maps", slow)
    order = open_order(
        shop, OrderWanted(press="P1", platen="upper"), by="Ann", at_us=OPENED,
        known=PlatensKnown(flags=(), pieces=(), delays={("P1", "upper"): "about 2 a day"}))
    assert order.reason == "due"
    assert dict(order.evidence)["If it waits"] == "about 2 a day"
