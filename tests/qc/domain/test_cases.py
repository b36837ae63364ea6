"""The rules of a case: what may follow what, and that nothing said is ever lost."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.domain.cases import (
    OPEN,
    STEPS,
    CaseFile,
    CaseStep,
    case_files,
    check_step,
    flag_from_json,
    flag_to_json,
    is_repeat,
    missing_to_close,
)
from qc.errors import Conflict, InputError
from tests.qc.domain.cases_made import SAID, T0_US, case, flag

ATTEMPTS = st.lists(st.tuples(st.sampled_from(STEPS), st.sampled_from(["ann", "bo"])), max_size=25)


def taken(attempts: list[tuple[str, str]]) -> CaseFile:
    """The case after all attempts that the rules let through."""
    made = case()
    for step, by in attempts:
        try:
            check_step(made, step, SAID[step])
        except Conflict:
            continue
        new = CaseStep(number=made.last + 1, flag_id=made.flag_id, step=step, by=by,
                       at_us=T0_US + made.last, said=SAID[step])
        made = CaseFile(steps=(*made.steps, new))
    return made


@given(ATTEMPTS)
def test_whatever_is_tried_a_case_stays_in_order(attempts: list[tuple[str, str]]) -> None:
    made = taken(attempts)
    is_closed, cause, action = False, False, False
    for step in made.steps[1:]:
        if is_closed:
            assert step.step in ("note", "reopen")
        else:
            assert step.step != "reopen"
        if step.step == "close":
            assert cause and action
        is_closed = step.step == "close" or (is_closed and step.step != "reopen")
        cause, action = cause or step.step == "cause", action or step.step == "action"
    assert made.is_closed is is_closed
    assert [step.step for step in made.steps].count(OPEN) == 1 and made.steps[0].step == OPEN


@given(ATTEMPTS)
def test_an_open_case_takes_every_step_but_reopen_and_perhaps_close(
    attempts: list[tuple[str, str]]
) -> None:
    made = taken(attempts)
    for step in STEPS:
        allowed = (step in ("note", "reopen") if made.is_closed else
                   step != "reopen" and (step != "close" or not missing_to_close(made)))
        if allowed:
            check_step(made, step, SAID[step])
        else:
            with pytest.raises(Conflict):
                check_step(made, step, SAID[step])


@given(ATTEMPTS)
def test_what_was_just_said_by_the_same_person_is_a_repeat(
    attempts: list[tuple[str, str]]
) -> None:
    made = taken(attempts)
    newest = made.steps[-1]
    if newest.step not in (OPEN, "contain"):
        assert is_repeat(made, newest.step, newest.said, newest.by)
        assert newest.step in ("acknowledge", "note") or not is_repeat(
            made, newest.step, newest.said, "somebody else")


def test_the_same_action_ten_minutes_later_is_a_second_one() -> None:
    made = case("action")
    for minutes, again in ((9, True), (11, False)):
        said = SAID["action"] | {"done_us": SAID["action"]["done_us"] + minutes * 60_000_000}
        assert is_repeat(made, "action", said, "ann") is again
    assert not is_repeat(made, "action", SAID["action"] | {"words": "other"}, "ann")


@pytest.mark.parametrize("source", ["agreed_change", "false"])
def test_nothing_to_put_right_needs_no_action(source: str) -> None:
    made = case(("cause", {"source": source, "words": "meant"}))
    assert missing_to_close(made) == ()
    check_step(made, "close", {})


@pytest.mark.parametrize(("steps", "missing"), [
    ((), ("cause", "action")), (("action",), ("cause",)), (("cause",), ("action",)),
    (("cause", "action"), ()),
])
def test_what_is_missing_to_close_is_said(steps: tuple[str, ...], missing: tuple[str, ...]) -> None:
    assert missing_to_close(case(*steps)) == missing
    if missing:
        with pytest.raises(Conflict, match=f"say its {' and its '.join(missing)} first"):
            check_step(case(*steps), "close", {})


@pytest.mark.parametrize(("step", "said", "words"), [
    ("burn", {}, "a case has no step 'burn'; there are: acknowledge"),
    ("note", {"words": "  "}, "the step note needs a text"),
    ("owner", {}, "the step owner needs a text"),
    ("note", {"words": "x" * 2001}, "has 2001 characters; at most 2000"),
    ("cause", {"words": "x", "source": "guess"}, "a cause comes from one of: trade, own"),
    ("due", {}, "the step due needs a time"),
    ("action", {"words": "x"}, "the step action needs a time"),
])
def test_what_a_step_lacks_is_said(step: str, said: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        check_step(None, step, said)


def test_the_newest_word_counts_and_the_older_ones_stay() -> None:
    made = case("owner", ("owner", {"name": "Cy"}), "due", "cause", "action", "close", "reopen")
    assert (made.owner, made.due_us) == ("Cy", SAID["due"]["due_us"])
    assert not made.is_closed and made.cause == SAID["cause"]
    assert made.is_overdue(made.due_us + 1) and not made.is_overdue(made.due_us)
    assert [step.said for step in made.steps if step.step == "owner"] == [
        {"name": "Bo"}, {"name": "Cy"}]
    assert not case("due", "cause", "action", "close").is_overdue(10**18)


@given(st.permutations(range(6)))
def test_steps_are_gathered_by_case(order: list[int]) -> None:
    one = case("owner", "note")
    other = case("note", "owner", of=flag(id="f2"))
    steps = [*one.steps, *other.steps]
    files = case_files(sorted((steps[at] for at in order), key=lambda step: step.number))
    assert files == {"f1": one, "f2": other}


def test_a_flag_comes_back_from_json_as_it_was() -> None:
    was = flag(platen="upper", zone="top", ended_at_us=T0_US, before=None, also=("bubble",))
    kept = json.loads(json.dumps(flag_to_json(was)))
    assert flag_from_json(kept) == was
    assert flag_from_json(kept | {"of_a_later_version": 1}) == was
