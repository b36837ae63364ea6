"""Kinds of defect in words."""

from __future__ import annotations

import pytest

from qc.domain.kinds import (
    WITHOUT_PLACE,
    defect_kinds,
    findings_in_words,
    plain_name,
    suggested_disposition,
)

EDGE, SCORCH = plain_name("lifted_edge"), plain_name("scorch")


@pytest.mark.parametrize(
    ("kept", "said"),
    [
        ("", ""), (";;", ""), ("@top", ""), ("lifted_edge", EDGE),
        ("lifted_edge@top_left:6*2", f"{EDGE}, top left (2)"),
        ("scorch@centre; own_kind", f"{SCORCH}, centre; Own kind"),
    ],
)
def test_findings_read_as_people_say_them(kept: str, said: str) -> None:
    assert findings_in_words(kept) == said


def test_what_is_usually_done_with_a_piece() -> None:
    """Common practice, no source: an edge is pressed again once; scorch is scrap; what may be
    dangerous is held; what pressing may or may not help is for somebody to decide."""
    assert suggested_disposition([]) == "pass"
    assert suggested_disposition(["lifted_edge"]) == "press_again"
    assert suggested_disposition(["lifted_edge"], attempt=2) == "scrap"
    assert suggested_disposition(["lifted_edge", "scorch"]) == "scrap"
    assert suggested_disposition(["bubble"]) == "hold"
    assert suggested_disposition(["foreign_object", "scorch"]) == "hold"
    assert suggested_disposition(["a_kind_of_our_own"]) == "hold"


def test_kinds_without_a_place_are_kinds() -> None:
    assert set(defect_kinds()) >= WITHOUT_PLACE
