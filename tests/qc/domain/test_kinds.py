"""Kinds of defect in words."""

from __future__ import annotations

import pytest

from qc.domain.kinds import findings_in_words, plain_name

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
