"""Recording at the bench: kept once however often it is sent, refused in words, taken back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pandas as pd
import pytest

from qc.desk.correcting import WhichLook, correct
from qc.desk.recording import MOST_AT_ONCE, Entry, Outcome, record_entries
from qc.desk.shop import Shop
from qc.domain.instants import HOUR_US, iso
from qc.errors import InputError
from qc.store import Store
from qc.store.audit import read_audit
from qc.store.checking import check_store
from qc.store.corrections import looks_at, versions_of
from qc.store.inspections import read_findings, read_looks
from qc.store.records import add_records
from qc.store.settings import change_setting, read_settings
from qc.store.tallies import read_piece_tally

NOW = 1_772_524_800_000_000


@pytest.fixture
def shop(store: Store) -> Iterator[Shop]:
    for kind, column, code in (("presses", "press", "P1"), ("fabrics", "fabric", "fleece"),
                               ("transfers", "transfer", "foam")):
        add_records(store, kind, pd.DataFrame({column: [code]}), by="test", at_us=NOW,
                    source=None)
    change_setting(store, name="temperature_unit", value="f", by="test", at_us=NOW)
    yield Shop(store, read_settings(store))


def look(piece: str = "A1", *, name: str = "", defects: str = "", by: str = "Mia",
         **fields: str) -> Entry:
    given = {"inspected_at": "2026-03-03T07:55:00.250Z", "press": "P1", "fabric": "fleece",
             "transfer": "foam", "defects": defects} | fields
    return Entry(name=name or f"e-{piece}", action="look", piece_id=piece, attempt=1,
                 location="back", stage="final", by=by, fields=given)


def then(entry: Entry, action: str, *, version: int = 1, **fields: str) -> Entry:
    return Entry(name=f"{action}-{entry.piece_id}", action=action, piece_id=entry.piece_id,
                 attempt=entry.attempt, location=entry.location, stage=entry.stage, by=entry.by,
                 fields=fields, version=version)


def record(shop: Shop, *entries: Entry) -> list[Outcome]:
    return record_entries(shop, entries, device="7KQ", at_us=NOW)


def test_a_look_is_kept_like_one_from_a_file(shop: Shop) -> None:
    found = record(shop, look(defects="lifted_edge@top_left:4", temperature_f="320", job="J-1"))
    assert found == [Outcome(name="e-A1", kept=True, version=1)]
    row = read_looks(shop.store, as_of_us=NOW).iloc[0]
    assert (row["piece_id"], row["job"], row["disposition"]) == ("A1", "J-1", "hold")
    assert row["temperature_c"] == pytest.approx(160.0)
    assert iso(int(row["inspected_at"]), shop.zone) == "2026-03-03T07:55:00.250000+00:00"
    finding = read_findings(shop.store, as_of_us=NOW).iloc[0]
    assert (finding["kind"], finding["zone"], finding["extent_mm"]) == (
        "lifted_edge", "top_left", 4.0)
    entry = read_audit(shop.store).iloc[-1]
    assert (entry["changed_by"], entry["source"]) == ("Mia", "bench 7KQ")


def test_what_is_sent_again_is_kept_once(shop: Shop) -> None:
    sent = (look("A1"), look("A2", defects="scorch"), then(look("A2"), "change", note="light"),
            then(look("A1"), "take_back"), then(look("A2"), "change", version=2, note="heavy"))
    first, again = record(shop, *sent), record(shop, *sent)
    assert [one.kept for one in first] == [one.kept for one in again] == [True] * 5
    assert [one.version for one in again] == [1, 1, 3, 2, 3]
    assert read_looks(shop.store, as_of_us=NOW)["piece_id"].tolist() == ["A2"]
    assert read_piece_tally(shop.store)["n"].sum() == 1
    assert len(versions_of(shop.store, {"piece_id": "A2", "attempt": 1, "location": "back",
                                        "stage": "final"})) == 3
    assert check_store(shop.store) == []


def test_a_stack_of_good_pieces_is_one_entry(shop: Shop) -> None:
    record(shop, look("A1", pieces="10", defective="0"))
    assert read_piece_tally(shop.store)[["n", "n_defective"]].to_numpy().tolist() == [[10, 0]]


def test_a_refused_entry_says_why_and_stops_no_other(shop: Shop) -> None:
    far = iso(NOW + HOUR_US, shop.zone)
    found = record(shop, look("A1", press="P9"), look("A2"), look("A3", temprature_f="1"),
                   look("A4", inspected_at=far), then(look("A5"), "change", note="x"))
    assert [one.kept for one in found] == [False, True, False, False, False]
    assert "'P9' is not on the list of presses" in found[0].why
    assert found[2].why == "a look has no 'temprature_f'"
    assert "ahead of now" in found[3].why and "there is no such look" in found[4].why
    assert not any(one.taken for one in found)


def test_two_devices_with_one_number_are_told_apart(shop: Shop) -> None:
    record(shop, look("A1"))
    other = record(shop, look("A1", job="J-2"))
    assert other[0].taken and not other[0].kept
    assert len(read_looks(shop.store, as_of_us=NOW)) == 1


def test_a_change_says_more_faults_and_what_becomes_of_the_piece(shop: Shop) -> None:
    one = look("A1", defects="scorch@centre")
    record(shop, one, then(one, "change", defects="scorch@centre;bubble", disposition="scrap",
                           dx_mm="3.5"))
    now = looks_at(shop.store, "A1")[0]
    assert [found["kind"] for found in now["findings"]] == ["scorch", "bubble"]
    assert (now["disposition"], now["dx_mm"], now["version"]) == ("scrap", 3.5, 2)
    assert (now["changed_by"], now["why"]) == ("Mia", "changed at the bench")


def test_nobodys_correction_is_overwritten_unseen(shop: Shop) -> None:
    one = look("A1", defects="scorch")
    record(shop, one)
    correct(shop, WhichLook(piece_id="A1"), ["disposition=concession"], why="agreed", by="Ana",
            at_us=NOW + 1)
    changed, back = record(shop, then(one, "change", disposition="scrap"), then(one, "take_back"))
    assert not changed.kept and "was changed by Ana in between" in changed.why
    assert not back.kept and "was changed by Ana in between" in back.why
    assert looks_at(shop.store, "A1")[0]["disposition"] == "concession"


def test_a_refused_change_keeps_neither_the_next_one_nor_an_undo_away(shop: Shop) -> None:
    """The device counts its own change as made until it hears that it was not."""
    one = look("A1", defects="scorch")
    wrong, right, back = record(
        shop, one, then(one, "change", dx_mm="zwei"), then(one, "change", version=2, note="seen"),
        then(one, "take_back", version=3))[1:]
    assert not wrong.kept and "zwei" in wrong.why
    assert right == Outcome(name=right.name, kept=True, version=2) and back.kept
    assert looks_at(shop.store, "A1") == []
    assert check_store(shop.store) == []


def test_pressing_again_belongs_to_its_piece(shop: Shop) -> None:
    """Taken back and recorded again, or by two people: it never gets another number."""
    one = look("A1", defects="lifted_edge", disposition="press_again")
    again = replace(look("A1", name="a2"), attempt=2)
    record(shop, one, again, then(again, "take_back"))
    anew = replace(look("A1", name="a3", defects="lifted_edge@top:4", note="twice",
                        inspected_at="2026-03-03T07:58:00Z"), attempt=2)
    assert record(shop, anew) == [Outcome(name="a3", kept=True, version=3)]
    assert record(shop, anew) == [Outcome(name="a3", kept=True, version=1)]  # a lost reply
    first, second = looks_at(shop.store, "A1")
    assert (first["attempt"], second["attempt"], second["note"]) == (1, 2, "twice")
    assert [(f["kind"], f["zone"], f["extent_mm"]) for f in second["findings"]] == [
        ("lifted_edge", "top", 4.0)]
    identity = {"piece_id": "A1", "attempt": 2, "location": "back", "stage": "final"}
    assert [one["withdrawn"] for one in versions_of(shop.store, identity)] == [False, True, False]
    (other,) = record(shop, replace(look("A1", name="b2", by="Bo", note="mine"), attempt=2))
    assert not other.kept and not other.taken and "recorded already by Mia" in other.why
    assert check_store(shop.store) == []


def test_people_are_told_apart_within_one_sending(shop: Shop) -> None:
    record(shop, look("A1", by="Mia"), look("A2", by="Bo"), look("A3", by="Bo"))
    audit = read_audit(shop.store)
    audit = audit[audit["what"] == "load inspections"]
    assert audit["changed_by"].tolist() == ["Mia", "Bo"]


def test_too_many_at_once_are_sent_in_parts(shop: Shop) -> None:
    many = [look(f"A{n}") for n in range(MOST_AT_ONCE + 1)]
    with pytest.raises(InputError, match=r"501 entries at once; send at most 500"):
        record(shop, *many)
    assert all(one.kept for one in record(shop, *many[:-1]))
