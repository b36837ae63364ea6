"""What is said of surveys that look wrong as they come in."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from qc.presses.entry import survey_cautions
from tests.qc.presses import made

ZONE = ZoneInfo("Europe/Lisbon")


def survey(name: str, day: float, **more: str) -> list[dict]:
    return made.survey(day, survey_id=name, **more)


def said_of(*surveys: list[dict], own: tuple[str, ...]) -> tuple[str, ...]:
    return survey_cautions(made.readings(*surveys), own, ZONE)


def test_whole_surveys_are_not_remarked_on() -> None:
    assert said_of(survey("A", 1), survey("B", 2, state="as_found"),
                   survey("C", 2.1, state="as_left"), own=("A", "B", "C")) == ()


def test_missing_points_are_named_or_counted() -> None:
    whole = survey("A", 1)
    assert said_of(whole[:-1], own=("A",)) == (
        "survey A of the upper platen of press P1 lacks the point at row 3, column 3",)
    assert said_of(whole[:-1], own=()) == ()  # said when it came in
    five = [point for point in whole if (point["row"] + point["col"]) % 2 == 0]
    assert said_of(five, own=("A",)) == ()  # corners and middle


def test_two_surveys_at_one_time_are_asked_about() -> None:
    one, = said_of(survey("A", 1), survey("B", 1), own=("B",))
    assert one.startswith("surveys A and B of the upper platen of press P1 were both made on ")
    assert said_of(survey("A", 1, state="as_found"), survey("B", 1, state="as_left"),
                   own=("A", "B")) == ()


def test_left_without_found_is_said_also_where_the_found_one_is_long_past() -> None:
    one, = said_of(survey("A", 1, state="as_left"), own=("A",))
    assert "what was found before the adjustment is missing" in one
    again, = said_of(survey("A", 1, state="as_found"), survey("B", 2),
                     survey("C", 3, state="as_left"), own=("C",))
    assert again.startswith("survey C of ")
