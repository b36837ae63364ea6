"""Cost of poor quality: counts of a plain loop times the price."""

from __future__ import annotations

from collections import Counter

import pytest

from qc.desk.quality_cost import Price, level_costs, price_of, quality_cost
from qc.desk.ranking import ranked_defects
from qc.desk.shop import Shop, open_shop
from qc.desk.trends import rate_over_time
from qc.domain.instants import DAY_US
from qc.store.inspections import read_findings, read_looks
from qc.store.settings import change_setting
from tests.dashboard.small_shop import END_US, START_US, build_shop

PRICE = Price(each=4.2, currency="EUR")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return build_shop(tmp_path_factory.mktemp("cost"))


def test_a_piece_counts_once_whatever_it_shows(shop: Shop) -> None:
    since = START_US + 20 * DAY_US
    cost = quality_cost(rate_over_time(shop, as_of_us=END_US, since_us=since), PRICE)
    found = set(read_findings(shop.store, as_of_us=END_US)["look"])
    looks = read_looks(shop.store, as_of_us=END_US)
    mine = looks[looks["pressed_at"] >= since]
    bad = sum(number in found for number in mine.index)
    assert cost.n_defective == bad and cost.total == pytest.approx(4.2 * bad)
    assert cost.cost.sum() == pytest.approx(cost.total)
    assert cost.per_hundred == pytest.approx(100 * 4.2 * bad / len(mine))
    assert cost.usual.sum() == pytest.approx(cost.usual_total) and cost.total > cost.usual_total


def test_ranked_levels_at_the_price(shop: Shop) -> None:
    pareto = ranked_defects(shop, by=("press",), as_of_us=END_US, kinds=("lifted_edge",))
    looks = read_looks(shop.store, as_of_us=END_US)
    found = read_findings(shop.store, as_of_us=END_US)
    edges = found[found["kind"] == "lifted_edge"]["look"]
    plain = Counter(looks.loc[edges, "press"].astype(str))
    rows = level_costs(pareto, PRICE)
    assert {row.level[0]: row.cost for row in rows} == {
        press: pytest.approx(4.2 * n) for press, n in plain.items()}
    assert rows[0].level == ("Cedar",) and rows[0].stands_out and rows[0].low > 0
    for row, of in zip(rows, pareto.rows, strict=True):
        assert row.beyond == pytest.approx(4.2 * (of.n_defects - of.expected))
        assert row.low < row.beyond < row.high
    assert sum(row.beyond for row in rows) == pytest.approx(0, abs=1e-6)


def test_without_pieces_there_is_no_share_of_a_hundred(shop: Shop) -> None:
    cost = quality_cost(rate_over_time(shop, as_of_us=START_US - DAY_US), PRICE)
    assert (cost.total, cost.per_hundred) == (0, None)


def test_the_price_is_the_shops_or_none(tmp_path_factory: pytest.TempPathFactory) -> None:
    shop = open_shop(str(tmp_path_factory.mktemp("price") / "shop.db"), create=True)
    assert price_of(shop) is None
    for name, value in (("defect_cost", "3.5"), ("currency", "EUR")):
        change_setting(shop.store, name=name, value=value, by="test", at_us=START_US)
    place = shop.store.location
    shop.store.close()
    priced = open_shop(place)
    assert price_of(priced) == Price(each=3.5, currency="EUR")
    priced.store.close()
