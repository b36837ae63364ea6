"""Records of a job, a shift and a month as documents: what they say, and every form."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from qc.desk.case_list import CaseEntry
from qc.desk.job_record import job_record
from qc.desk.month_record import month_record
from qc.desk.shift_record import shift_record
from qc.desk.shop import Shop
from qc.domain.action_checks import ActionCheck
from qc.domain.cases import CaseFile, CaseStep
from qc.domain.instants import DAY_US, HOUR_US
from reports import wording_of_records as words
from reports.document import Caution, Facts, Picture, Table
from reports.job_record import against_release, release_document
from reports.month_record import month_document
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


@pytest.mark.parametrize("form", sorted(FORMS))
def test_a_month_in_every_form(shop: Shop, form: str) -> None:
    record = month_record(shop, moment_us=NOW_US, as_of_us=NOW_US)
    document = month_document(record, shop_name="Quillmere <Press>", zone=LISBON)
    made = FORMS[form](document)
    assert made == FORMS[form](document) and len(made) > 300
    assert sum(int(row[2]) for row in document.main.rows) == record.against.after.n_pieces  # type: ignore[arg-type]
    (picture,) = (block for block in document.blocks if isinstance(block, Picture))
    assert picture.words.startswith(("One of", "No point")) or "points signal" in picture.words
    facts = dict(next(block for block in document.blocks if isinstance(block, Facts)).pairs)
    verdict = words.MONTH_VERDICTS[record.against.verdict]
    ratio = record.against.comparison.ratio
    assert facts[words.MONTH_MOVED] == (
        f"{verdict}: {ratio.value:.2f} times (95 % {ratio.low:.2f} to {ratio.high:.2f})")


def test_a_month_says_what_was_found_and_whether_it_worked(shop: Shop) -> None:
    record = month_record(shop, moment_us=NOW_US, as_of_us=NOW_US)
    (one, *_) = record.flags
    case = CaseFile(steps=(
        CaseStep(number=1, flag_id=one.flag.id, step="open", by="Ada", at_us=NOW_US, said={}),
        CaseStep(number=2, flag_id=one.flag.id, step="cause", by="Ada", at_us=NOW_US,
                 said={"source": "own", "code": "", "words": "loose wire", "defect": ""}),
        CaseStep(number=3, flag_id=one.flag.id, step="close", by="Ada", at_us=NOW_US, said={})))
    check = ActionCheck(verdict="came_back", since_us=NOW_US)
    done = replace(one, case=CaseEntry(case=case, check=check, is_overdue=False))
    document = month_document(replace(record, flags=(done,)), shop_name="Q", zone=LISBON)
    (table,) = (block for block in document.blocks if isinstance(block, Table)
                and block.title == words.MONTH_FLAGS)
    ((_, what, found, state),) = table.rows
    assert one.flag.id in str(what) and str(state).startswith("closed ")
    assert found == "cause: loose wire; after the action: came back"


def test_an_empty_month_says_so(shop: Shop) -> None:
    record = month_record(shop, moment_us=START_US - 20 * DAY_US, as_of_us=NOW_US)
    document = month_document(record, shop_name="Q", zone=LISBON)
    facts = next(block for block in document.blocks if isinstance(block, Facts))
    assert facts.pairs == ((words.PIECES_MADE, words.MONTH_NO_PIECES),)
    assert words.MONTH_FLAGS_NONE in [getattr(block, "text", "") for block in document.blocks]
    assert not any(isinstance(block, Picture) for block in document.blocks)
    assert document.main.rows == ()


def test_an_empty_shift_says_so(shop: Shop) -> None:
    night = shift_record(shop, moment_us=START_US + 38 * DAY_US + 2 * HOUR_US, as_of_us=NOW_US)
    facts = next(block for block in shift_document(
        night, shop_name="Q", zone=LISBON).blocks if isinstance(block, Facts))
    assert facts.pairs == ((words.PIECES_MADE, words.NO_PIECES),)
