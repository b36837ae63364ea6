"""A job's release record and a shift's record as documents: what they say, and every form."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from qc.desk.job_record import job_record
from qc.desk.shift_record import shift_record
from qc.desk.shop import Shop
from qc.domain.instants import DAY_US, HOUR_US
from reports import wording_of_records as words
from reports.document import Caution, Facts, Table
from reports.job_record import against_release, release_document
from reports.shift_record import shift_document
from reports.writing import FORMS
from tests.dashboard.small_shop import END_US, START_US
from tests.qc.desk.case_shop import case_shop

LISBON = ZoneInfo("Europe/Lisbon")
BAD_JOB, GOOD_JOB, NOW_US = "J038C", "J001A", END_US + HOUR_US


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return case_shop(tmp_path_factory.mktemp("records"))


def test_what_is_on_hold_flagged_or_lacking_speaks_against_release(shop: Shop) -> None:
    record = job_record(shop, BAD_JOB, as_of_us=NOW_US)
    against = " ".join(against_release(record))
    assert "on hold" in against and record.flags[0].flag.id in against
    assert words.AGAINST_FEWER.split("{", 1)[0] in against


def test_a_flag_about_a_person_does_not_name_them(shop: Shop) -> None:
    record = job_record(shop, BAD_JOB, as_of_us=NOW_US)
    (one, *_) = record.flags
    factor = replace(one.flag.factor, name="operator", level="Ada")
    flag = replace(one.flag, factor=factor, message="Prints in the work of operator Ada sit off.")
    said = against_release(replace(record, flags=(replace(one, flag=flag),)))
    assert any(flag.id in line for line in said) and "Ada" not in " ".join(said)


def test_nothing_speaks_against_a_job_in_order(shop: Shop) -> None:
    record = job_record(shop, GOOD_JOB, as_of_us=NOW_US)
    n = record.n_pieces
    whole = replace(record, now=(("pass", n),), flags=(), platens=(), defects=(), pieces=tuple(
        replace(piece, disposition="pass", status="in_house") for piece in record.pieces))
    said = list(document_of(replace(
        whole, sheet=SimpleNamespace(values={"ordered": n}))).blocks)  # type: ignore[arg-type]
    assert not any(isinstance(block, Caution) for block in said)
    assert words.AGAINST_NOTHING in [getattr(block, "text", "") for block in said]
    unsaid = document_of(replace(whole, sheet=None))
    assert words.AGAINST_NOT_SAID in [getattr(block, "text", "") for block in unsaid.blocks]


@pytest.mark.parametrize("change, told", [
    ({"now": (("press_again", 2),)}, "2 pieces to be pressed again."),
    ({"now": (("scrap", 1),)}, "1 piece scrapped."),
    ({"now": ((None, 3),)}, "3 pieces of which nobody said"),
    ({"n_complaints": 1}, "1 piece looked at at the customer's"),
    ({"pieces": ()}, words.AGAINST_NO_PIECES),
])
def test_whatever_is_open_is_said(shop: Shop, change: dict[str, object], told: str) -> None:
    record = replace(job_record(shop, GOOD_JOB, as_of_us=NOW_US), **change)  # type: ignore[arg-type]
    assert any(one.startswith(told) for one in against_release(record))


def document_of(record):  # noqa: ANN001, ANN201
    return release_document(record, shop_name="Quillmere <Press>", zone=LISBON)


@pytest.mark.parametrize("form", sorted(FORMS))
def test_a_release_record_in_every_form_names_nobody(shop: Shop, form: str) -> None:
    document = document_of(job_record(shop, BAD_JOB, as_of_us=NOW_US))
    made = FORMS[form](document)
    assert made == FORMS[form](document)  # same input, same bytes
    assert b"Ada" not in made or form == ".pdf"
    assert not any("Ada" in str(cell) for table in (*document.blocks, document.main)
                   if isinstance(table, Table) for row in table.rows for cell in row)


@pytest.mark.parametrize("form", sorted(FORMS))
def test_a_shift_in_every_form(shop: Shop, form: str) -> None:
    record = shift_record(shop, moment_us=START_US + 38 * DAY_US + 10 * HOUR_US, as_of_us=NOW_US)
    document = shift_document(record, shop_name="Quillmere <Press>", zone=LISBON)
    made = FORMS[form](document)
    assert made == FORMS[form](document) and len(made) > 300
    table = next(block for block in document.blocks
                 if isinstance(block, Table) and block.title == words.BY_PRESS)
    assert np.sum([row[1] for row in table.rows]) == record.total.n_pieces  # type: ignore[union-attr]


def test_an_empty_shift_says_so(shop: Shop) -> None:
    night = shift_record(shop, moment_us=START_US + 38 * DAY_US + 2 * HOUR_US, as_of_us=NOW_US)
    facts = next(block for block in shift_document(
        night, shop_name="Q", zone=LISBON).blocks if isinstance(block, Facts))
    assert facts.pairs == ((words.PIECES_MADE, words.NO_PIECES),)
