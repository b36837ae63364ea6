"""A look as it is read and written in the shop's units: only what is changed counts as changed."""

from __future__ import annotations

import pytest

from qc.desk.correcting import WhichLook, correct
from qc.desk.look_fields import (
    FINDINGS,
    WrittenFinding,
    changes_written,
    differences,
    finding_texts,
    findings_line,
    length_symbol,
    shown_fields,
    value_text,
)
from qc.desk.looks import open_look
from qc.desk.shop import Shop, change_setting, reread
from qc.domain.instants import parse_instant
from qc.errors import InputError
from qc.store import Store
from tests.qc.store.made import LOADED, add, findings_of, look

IDENTITY = {"piece_id": "a", "attempt": 1, "location": "left_chest", "stage": "final"}


@pytest.fixture
def shop(sqlite_store: Store) -> Shop:
    for name, value in (("temperature_unit", "f"), ("length_unit", "in"),
                        ("pressure_unit", "psi"), ("timezone", "Europe/Lisbon")):
        change_setting(Shop(sqlite_store, {}), name=name, value=value, by="ann", at_us=LOADED)
    add(sqlite_store, [look("a", temperature_c=(305 - 32) * 5 / 9, dx_mm=3.3, pressure_kpa=310.3)],
        findings_of((0, "scorch", "top", 2.5, 1), (0, "bubble", None, None, 3)))
    return reread(Shop(sqlite_store, {}))


def as_shown(shop: Shop) -> dict[str, str]:
    now = open_look(shop, IDENTITY).now
    return {field.name: value_text(field, now[field.name], shop) for field in shown_fields(shop)}


def test_values_are_in_the_shop_s_units(shop: Shop) -> None:
    """305 degF is 151.67 degC; 1 lbf/in2 is 6.894757293168361 kPa (NIST SP 811, appendix B)."""
    shown = as_shown(shop)
    assert shown["temperature_c"] == "305" and shown["dx_mm"] == "0.1299"
    assert shown["pressure_kpa"] == "45.0052"  # 310.3 / 6.894757...
    assert shown["station"] == "" and shown["inspected_at"] == "2026-01-01T00:10"
    written = {field.name: (field.written, field.symbol) for field in shown_fields(shop)}
    assert written["temperature_c"] == ("temperature_f", "°F")
    assert written["pressure_kpa"] == ("pressure_psi", "psi") and length_symbol(shop) == "in"


def test_what_is_left_alone_is_no_change(shop: Shop) -> None:
    now = open_look(shop, IDENTITY).now
    assert changes_written(now, as_shown(shop), finding_texts(now["findings"], shop), shop) == ()


def test_only_what_is_changed_is_sent_and_nothing_else_moves(shop: Shop) -> None:
    now = open_look(shop, IDENTITY).now
    told = finding_texts(now["findings"], shop)
    written = as_shown(shop) | {"temperature_c": " 300 ", "station": "left", "job": ""}
    new = WrittenFinding(kind="wrinkle", zone="left", extent="0.5")
    changes = changes_written(now, written, [*told, WrittenFinding(), new], shop)
    assert changes == ("station=left", "job=", "temperature_f=300",
                       "defects=scorch@top:2.5;bubble*3;wrinkle@left:12.7")
    correct(shop, WhichLook(piece_id="a"), changes, why="misread", by="bo", at_us=LOADED + 9)
    opened = open_look(shop, IDENTITY)
    assert opened.now["dx_mm"] == 3.3
    assert opened.now["temperature_c"] == pytest.approx(148.889, abs=1e-3)
    assert [(one.name, one.before, one.after) for one in
            differences(*opened.versions, shop)] == [
        ("station", "", "left"), ("job", "J1", ""), ("temperature_c", "305", "300"),
        (FINDINGS, "scorch@top:2.5;bubble*3", "scorch@top:2.5;bubble*3;wrinkle@left:12.7")]


def test_a_finding_is_taken_away(shop: Shop) -> None:
    now = open_look(shop, IDENTITY).now
    assert changes_written(now, {}, [], shop) == ("defects=",)


@pytest.mark.parametrize(("wrong", "said"), [
    (WrittenFinding(zone="top"), "no kind"),
    (WrittenFinding(kind="scorch", extent="big"), "must be a number"),
    (WrittenFinding(kind="scorch", n="many"), "whole number"),
])
def test_a_finding_that_cannot_be_read_is_said(
    shop: Shop, wrong: WrittenFinding, said: str
) -> None:
    with pytest.raises(InputError, match=said):
        changes_written(open_look(shop, IDENTITY).now, {}, [wrong], shop)


def test_findings_in_one_line_are_those_of_a_file() -> None:
    assert findings_line([{"kind": "scorch", "zone": None, "extent_mm": 4.0, "n": 2}]) == (
        "scorch@:4*2")


@pytest.mark.parametrize("at, written", [
    ("2026-07-01T08:30:00+00:00", "2026-07-01T09:30"),
    ("2026-07-01T08:30:05+00:00", "2026-07-01T09:30:05"),
    ("2026-07-01T08:30:05.250000+00:00", "2026-07-01T09:30:05.250000+01:00"),
    ("2026-10-25T00:30:00+00:00", "2026-10-25T01:30:00+01:00"),  # that hour is there twice
    ("2026-10-25T01:30:00+00:00", "2026-10-25T01:30:00+00:00"),
])  # the clocks of Lisbon in 2026: IANA time zone database
def test_a_time_is_written_by_the_shop_s_clock_and_reads_back_the_same(
    shop: Shop, at: str, written: str
) -> None:
    field = next(one for one in shown_fields(shop) if one.name == "pressed_at")
    instant_us = parse_instant(at, shop.zone)
    assert value_text(field, instant_us, shop) == written
    assert parse_instant(written, shop.zone) == instant_us
