from __future__ import annotations

import pytest

from qc.desk.chart_kinds import KINDS, checked_kind, in_words
from qc.desk.chart_request import (
    ChartRequest,
    parse_baseline,
    parse_excluded,
    parse_values,
    written,
)
from qc.errors import InputError
from qc.stats.charts.baselines import Excluded

LINES = (2, 3, 5)  # of three rows, after an empty line


def test_options_as_they_are_written() -> None:
    assert parse_baseline(" 3:25 ") == (3, 25)
    assert parse_excluded("6=clamp = slipped ") == Excluded(at=6, reason="clamp = slipped")
    assert parse_values("dx_mm, dy_mm") == ("dx_mm", "dy_mm")


@pytest.mark.parametrize("text", ["", "6", "=x", "6=", "6= ", "x=y", "-1=x", "1.5=x"])
def test_an_exclusion_needs_a_point_and_a_cause(text: str) -> None:
    with pytest.raises(InputError, match="write the point and the cause"):
        parse_excluded(text)


@pytest.mark.parametrize("text", ["", "1", "1:", ":2", "a:b", "1:2:3", "-1:2"])
def test_a_baseline_has_two_ends(text: str) -> None:
    with pytest.raises(InputError, match="write first and last point"):
        parse_baseline(text)


@pytest.mark.parametrize("kind", KINDS)
def test_a_kind_names_the_first_column_it_lacks(kind: str) -> None:
    first = next(iter(KINDS[kind].columns))
    with pytest.raises(InputError, match=f"a chart of kind '{kind}' needs --{first} COLUMN"):
        checked_kind(ChartRequest(kind=kind))


@pytest.mark.parametrize("kind", KINDS)
def test_every_option_of_a_kind_is_a_field_of_the_request(kind: str) -> None:
    fields = ChartRequest.__dataclass_fields__
    assert {*KINDS[kind].columns, *KINDS[kind].optional, *KINDS[kind].options} <= {*fields}


@pytest.mark.parametrize(("message", "words"), [
    ("values is nan at position 3; it must be finite", "column 'x' is nan in line 5; it must be"),
    ("weight is 2; it must be inside (0, 1]", "--lambda is 2; it must be inside"),
    ("baseline has 1 point; it needs 2", "the file has 1 point; it needs 2"),
    ("arl is 0; above 1", "--for-arl is 0; above 1"),
])
def test_messages_speak_of_what_was_given(message: str, words: str) -> None:
    request = ChartRequest(kind="ewma", value="x")
    assert in_words(message, KINDS["ewma"], request, LINES).startswith(words)


def test_a_baseline_that_was_given_is_named() -> None:
    request = ChartRequest(kind="ewma", value="x", baseline=(1, 1))
    said = in_words("baseline has 1 point", KINDS["ewma"], request, LINES)
    assert said == "--baseline has 1 point"


def test_variables_are_called_by_their_columns() -> None:
    request = ChartRequest(kind="t2", values=("dx", "dy", "turn"))
    said = in_words("values of the variables 1, 3 follow from each other", KINDS["t2"], request,
                    LINES)
    assert said == "columns dx, turn follow from each other"
    assert "in dy of" in in_words("values do not vary in variable 2 of the baseline",
                                  KINDS["t2"], request, LINES)


def test_fields_as_they_are_written() -> None:
    assert [written(name) for name in ("weight", "head_start", "excluded", "width")] == [
        "lambda", "head-start", "exclude", "width"]
