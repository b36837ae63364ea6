"""The check of an action in the units of the shop."""

from __future__ import annotations

import pytest

from qc.domain.action_checks import ActionCheck, Phase, check_sentence, in_units
from qc.units import ShopUnits

AMERICAN = ShopUnits(temperature="f", length="in", pressure="psi")


def check(unit: str, seen: float, usual: float, raised: float) -> ActionCheck:
    after = Phase(name="after", since_us=0, until_us=9, n_pieces=40, value=seen, low=seen,
                  high=raised, usual=usual)
    return ActionCheck(verdict="came_back", since_us=0, is_count=False, unit=unit, seen=seen,
                       usual=usual, raised=raised, n_pieces=40, phases=(after,))


@pytest.mark.parametrize(("unit", "given", "said"), [
    ("degC", (0.5, 0.0, -5.0), "+0.9 °F where +0.0 °F usual and -9.0 °F during the fault"),
    ("mm", (0.0, 0.0, 5.08), "+0.00 in where +0.00 in usual and +0.20 in during the fault"),
    ("kPa", (0.0, 0.0, -68.9476), "+0.0 psi where +0.0 psi usual and -10.0 psi during the fault"),
    ("s", (0.1, 0.0, -3.0), "+0.1 s where +0.0 s usual and -3.0 s during the fault"),
    ("share", (0.01, 0.0, -0.2), "+1.0 % where +0.0 % usual and -20.0 % during the fault"),
])
def test_means_are_read_in_the_units_of_the_shop(
    unit: str, given: tuple[float, float, float], said: str
) -> None:
    read = in_units(check(unit, *given), AMERICAN)
    assert check_sentence(read) == f"came back: {said}, on 40 pieces"
    (after,) = read.phases
    assert (after.value, after.usual, after.high) == (read.seen, read.usual, read.raised)


def test_nothing_changes_for_a_shop_that_reads_what_is_stored() -> None:
    for unit in ("degC", "mm", "kPa", "deg", "share"):
        assert in_units(check(unit, 1.0, 0.0, 2.0), ShopUnits()) == check(unit, 1.0, 0.0, 2.0)
