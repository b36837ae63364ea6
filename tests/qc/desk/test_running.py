from __future__ import annotations

import numpy as np
import pytest

from qc.desk.running import KINDS, RunRequest, parse_shifts, run_lengths
from qc.errors import InputError
from qc.stats.runlength.counts import count_run_length
from qc.stats.runlength.result import Caution

NEEDED = {"centre": 0.2, "size": 50, "n_variables": 2}


@pytest.mark.parametrize("name", KINDS)
def test_every_kind_runs_with_what_it_needs_alone(name: str) -> None:
    kind = KINDS[name]
    answer = run_lengths(RunRequest(kind=name, **{need: NEEDED[need] for need in kind.needed}))
    calm, *changed = answer.rows
    assert calm.shift == answer.calm == kind.calm
    assert all(row.run.arl >= 1 for row in answer.rows)
    if answer.calm == 0:  # a larger shift is found sooner
        assert [row.run.arl for row in answer.rows] == sorted(
            (row.run.arl for row in answer.rows), reverse=True)
    assert changed
    assert answer.method
    assert answer.found is None


@pytest.mark.parametrize("name", KINDS)
def test_every_kind_finds_its_limit(name: str) -> None:
    given = {need: NEEDED[need] for need in KINDS[name].needed}
    answer = run_lengths(RunRequest(kind=name, for_arl=150, shifts=(KINDS[name].calm,), **given))
    assert answer.found.name == KINDS[name].limit
    counted = name in ("p", "np", "c", "u", "g")
    assert answer.rows[0].run.arl >= 150 * (1 - 1e-7)
    if not counted:
        assert answer.rows[0].run.arl == pytest.approx(150, rel=1e-6)
    assert (answer.found.upper is None) == (not counted and name != "t")


def test_options_reach_the_function() -> None:
    answer = run_lengths(RunRequest(kind="c", centre=4, shifts=(1.0,), limits="probability",
                                    alpha=0.01, rules="one_side", state="steady"))
    wanted = count_run_length(1.0, kind="c", centre=4, limits="probability", alpha=0.01,
                              rules="one_side", state="steady")
    assert answer.rows[0].run == wanted
    assert answer.state == "steady"


def test_a_caution_is_said_once() -> None:
    answer = run_lengths(RunRequest(kind="g", centre=99))
    assert len(answer.rows) > 1
    assert answer.cautions == (Caution.NO_LOWER_LIMIT.value,)


def test_shifts_asked_for_are_never_left_out() -> None:
    # of the usual ones those that cannot be are; one that was asked for is refused
    usual = run_lengths(RunRequest(kind="p", centre=0.9, size=4))
    assert max(row.shift for row in usual.rows) < 0.75
    with pytest.raises(InputError, match="--shift is 0.75; it would make the share"):
        run_lengths(RunRequest(kind="p", centre=0.9, size=4, shifts=(0, 0.75)))


def test_shifts_are_read_as_numbers() -> None:
    assert parse_shifts("0, 0.5,-1e-1") == (0, 0.5, -0.1)
    assert np.isnan(parse_shifts("nan")[0])  # refused by the function, with its name
    for text in ("", "1,", "1;2", "1,5,a"):
        with pytest.raises(InputError, match="write numbers joined by commas"):
            parse_shifts(text)
