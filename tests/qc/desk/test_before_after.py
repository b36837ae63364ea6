"""Before and after a moment: counts and estimates against plain loops over the records."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
import pandas as pd
import pytest

from qc.desk.before_after import (
    BeforeAfter,
    Narrowed,
    Stretch,
    around,
    before_after,
    levels_to_compare,
)
from qc.desk.shop import Shop
from qc.domain.instants import DAY_US, HOUR_US
from qc.errors import InputError
from qc.store.inspections import read_findings, read_looks
from tests.dashboard.small_shop import BAD_FROM_DAY, END_US, PRESSES, START_US, build_shop
from tests.reference import strata as slow

TURN_US = START_US + BAD_FROM_DAY * DAY_US


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return build_shop(tmp_path_factory.mktemp("before_after"))


def records(shop: Shop, kind: str | None) -> list[dict]:
    """Every piece (each is looked at once) with whether it has the kind."""
    found = read_findings(shop.store, as_of_us=END_US)
    kinds = found.groupby("look")["kind"].agg(set).to_dict()
    looks = read_looks(shop.store, as_of_us=END_US)
    return [row | {"bad": bool(kinds.get(number)) if kind is None
                   else kind in kinds.get(number, set())}
            for number, row in zip(looks.index, looks.to_dict("records"), strict=True)]


def asked(shop: Shop, days: int = 13, **of: str) -> BeforeAfter:
    before, after = around(TURN_US, days, as_of_us=END_US)
    return before_after(shop, before, after, of=Narrowed(**of), as_of_us=END_US)


@pytest.mark.parametrize("of", [
    {}, {"kind": "lifted_edge"}, {"kind": "lifted_edge", "factor": "press", "level": "Cedar"},
    {"factor": "fabric", "level": "rib-fine"}, {"factor": "transfer", "level": "film-matt"},
])
def test_counts_and_estimates_are_those_of_a_plain_loop(shop: Shop, of: dict[str, str]) -> None:
    found = asked(shop, **of)
    strata: dict[tuple, list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    for row in records(shop, of.get("kind")):
        if "factor" in of and row[of["factor"]] != of["level"]:
            continue
        for at, side in ((0, found.after), (2, found.before)):
            if side.stretch.from_us <= row["pressed_at"] < side.stretch.until_us:
                mix = tuple(str(row[name]) for name in ("fabric", "transfer", "location"))
                strata[mix][at] += row["bad"]
                strata[mix][at + 1] += 1
    total = np.array(list(strata.values())).sum(axis=0)
    assert [found.after.n_defective, found.after.n_pieces, found.before.n_defective,
            found.before.n_pieces] == total.tolist()
    both = [tuple(counts) for counts in strata.values() if counts[1] and counts[3]]
    sums = slow.sums(both)
    compared = found.comparison
    assert compared.ratio.value == pytest.approx(sums["mine"] / sums["other"])
    assert compared.difference.value == pytest.approx(
        (sums["mine"] - sums["other"]) / sums["weight"])
    ends = slow.ratio_ends(both, 1.959963984540054 * found.spread.times)
    assert (compared.ratio.low, compared.ratio.high) == pytest.approx(ends, rel=1e-6)


def test_the_planted_rise_is_said_and_the_other_presses_are_not_blamed(shop: Shop) -> None:
    bad = asked(shop, kind="lifted_edge", factor="press", level="Cedar")
    assert bad.verdict == "rose" and bad.comparison.ratio.low > 1.5
    others = [asked(shop, kind="lifted_edge", factor="press", level=press).verdict
              for press in PRESSES if press != "Cedar"]
    assert others == ["luck"] * 3
    assert asked(shop, kind="scorch").verdict == "luck"


def test_days_beyond_chance_widen_the_interval(shop: Shop) -> None:
    """The spread by a plain sum of Pearson's terms, day by day within each side."""
    found = asked(shop, kind="lifted_edge")
    rows = pd.DataFrame(records(shop, "lifted_edge"))
    mix = [rows[name].astype(str) for name in ("fabric", "transfer", "location")]
    rows["expected"] = rows.groupby(mix)["bad"].transform("mean")
    terms = []
    for side in (found.before, found.after):
        mine = rows[(rows["pressed_at"] >= side.stretch.from_us)
                    & (rows["pressed_at"] < side.stretch.until_us)]
        days = mine.groupby(mine["pressed_at"] // DAY_US).agg(
            n=("bad", "size"), bad=("bad", "sum"), expected=("expected", "sum"))
        mean = days["expected"] * days["bad"].sum() / days["expected"].sum()
        terms.append(((days["bad"] - mean) ** 2 / (mean * (1 - mean / days["n"]))).to_list())
    freedom = sum(map(len, terms)) - 2
    assert found.spread.freedom == freedom
    assert found.spread.times == pytest.approx(
        max(1.0, (sum(map(sum, terms)) / freedom) ** 0.5))


def test_the_hour_of_the_moment_belongs_to_neither_side() -> None:
    before, after = around(TURN_US + HOUR_US // 2, 7, as_of_us=END_US)
    assert (before.until_us, after.from_us) == (TURN_US, TURN_US + HOUR_US)
    assert before.until_us - before.from_us == 7 * DAY_US == after.until_us - after.from_us
    on_the_hour = around(TURN_US, 7, as_of_us=END_US)
    assert on_the_hour[0].until_us == on_the_hour[1].from_us == TURN_US
    assert around(END_US - DAY_US, 7, as_of_us=END_US)[1].until_us == END_US + 1
    assert around(END_US + DAY_US, 7, as_of_us=END_US)[1].until_us > END_US + DAY_US


def test_with_little_work_in_common_the_usual_rates_of_all_else_count(shop: Shop) -> None:
    """Cedar, two days before and four after: hardly the same work, and yet the rise is told."""
    before, after = (Stretch(from_us=TURN_US + a * DAY_US, until_us=TURN_US + b * DAY_US)
                     for a, b in ((-3, 0), (1, 5)))
    of = Narrowed(kind="lifted_edge", factor="press", level="Cedar")
    found = before_after(shop, before, after, of=of, as_of_us=END_US)
    rows = records(shop, "lifted_edge")

    def mix(row: dict) -> tuple[str, ...]:
        return tuple(str(row[name]) for name in ("fabric", "transfer", "location"))

    def inside(row: dict, one: Stretch) -> bool:
        return row["press"] == "Cedar" and one.from_us <= row["pressed_at"] < one.until_us

    usual: dict[tuple, list[int]] = defaultdict(lambda: [0, 0])
    for row in rows:
        if not inside(row, before) and not inside(row, after):
            usual[mix(row)][0] += row["bad"]
            usual[mix(row)][1] += 1
    rate = {key: bad / n for key, (bad, n) in usual.items()}
    seen, expected = ([sum(weight(row) for row in rows if inside(row, one))
                       for one in (after, before)]
                      for weight in (lambda row: row["bad"], lambda row: rate[mix(row)]))
    alike = ({mix(row) for row in rows if inside(row, before)})
    part = [mix(row) in alike for row in rows if inside(row, after)]
    assert found.by_usual == (sum(part) < 0.5 * len(part))
    if found.by_usual:
        wanted = seen[0] / expected[0] / (seen[1] / expected[1]) if seen[1] else float("inf")
        assert found.comparison.ratio.value == pytest.approx(wanted)
        assert "all other" in found.source
    assert found.by_usual


def test_nothing_there_is_nothing_to_compare(shop: Shop) -> None:
    before, after = around(START_US, 7, as_of_us=END_US)
    found = before_after(shop, before, after, of=Narrowed(), as_of_us=END_US)
    assert found.before.n_pieces == 0 and found.before.share is None
    assert found.after.n_pieces > 0 and found.verdict == "nothing"
    assert not found.spread.is_known or found.spread.times >= 1


def test_looking_back_uses_nothing_later(shop: Shop) -> None:
    then = TURN_US + 3 * DAY_US
    before, after = around(TURN_US, 13, as_of_us=END_US)
    early = before_after(shop, before, after, of=Narrowed(), as_of_us=then)
    late = before_after(shop, before, after, of=Narrowed(), as_of_us=END_US)
    assert early.before.n_pieces == late.before.n_pieces
    assert 0 < early.after.n_pieces < late.after.n_pieces / 2


def test_what_can_be_chosen_is_what_the_shop_has(shop: Shop) -> None:
    levels = levels_to_compare(shop)
    assert {("press", press) for press in PRESSES} <= set(levels)
    assert ("transfer", "film-matt") in levels and ("fabric", "rib-fine") in levels


def test_wrong_questions_are_refused(shop: Shop) -> None:
    one, two = (Stretch(from_us=TURN_US + k * DAY_US, until_us=TURN_US + (k + 2) * DAY_US)
                for k in (0, 1))
    with pytest.raises(InputError, match="overlap"):
        before_after(shop, one, two, of=Narrowed(), as_of_us=END_US)
    with pytest.raises(InputError, match="ends before it begins"):
        before_after(shop, Stretch(from_us=5, until_us=5), two, of=Narrowed(), as_of_us=END_US)
    with pytest.raises(InputError, match="cannot compare one 'mood'; allowed: press"):
        before_after(shop, *around(TURN_US, 2, as_of_us=END_US),
                     of=Narrowed(factor="mood", level="x"), as_of_us=END_US)
