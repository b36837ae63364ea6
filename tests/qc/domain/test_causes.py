"""The order of causes: the trade's to begin with, the shop's own once it has cases."""

from __future__ import annotations

import numpy as np
import pytest

from qc.domain.causes import PRIOR_CASES, experience_of, ranked_causes
from qc.domain.kinds import causes_of, defect_kinds
from tests.qc.domain.cases_made import FOUND, case, flag


@pytest.mark.parametrize("defect", list(defect_kinds()))
def test_without_cases_the_order_is_the_trades(defect: str) -> None:
    ranked = ranked_causes(defect)
    assert [one.cause for one in ranked] == list(causes_of(defect))
    assert sum(one.share for one in ranked) == pytest.approx(1.0 if ranked else 0.0)


def test_found_often_comes_first_and_is_counted() -> None:
    ranked = ranked_causes("lifted_edge", {("lifted_edge", "K013"): 3, ("scorch", "K021"): 9})
    assert (ranked[0].code, ranked[0].n_found) == ("K013", 3)
    assert sum(one.n_found for one in ranked) == 3


def test_the_shops_own_words_are_listed_once_found() -> None:
    ranked = ranked_causes("lifted_edge", {("lifted_edge", "wet sleeve board"): 5})
    assert (ranked[0].words, ranked[0].cause, ranked[0].n_found) == ("wet sleeve board", None, 5)
    own = ranked_causes("fuzzy_rim", {("fuzzy_rim", "bent tray"): 1})
    assert [(one.words, one.share) for one in own] == [("bent tray", 1.0)]
    assert ranked_causes("fuzzy_rim") == ()


def test_shares_are_the_means_of_a_simulated_posterior() -> None:
    """Against draws from the Dirichlet posterior itself."""
    found = {("scorch", "K021"): 2, ("scorch", "K024"): 4}
    ranked = {one.code: one for one in ranked_causes("scorch", found)}
    trade = causes_of("scorch")
    weight = np.array([1 / cause.rank for cause in trade])
    alpha = PRIOR_CASES * weight / weight.sum()
    alpha = alpha + [found.get(("scorch", cause.code), 0) for cause in trade]
    drawn = np.random.default_rng(3).dirichlet(alpha, 40_000).mean(axis=0)
    assert [ranked[cause.code].share for cause in trade] == pytest.approx(drawn.tolist(), abs=0.005)


def test_only_closed_cases_with_a_real_cause_count() -> None:
    closed = case("cause", "action", "close")
    own = case(("cause", {"source": "own", "words": "wet board", "defect": "bubble"}), "action",
               "close", of=flag(id="f2"))
    agreed = case(("cause", {"source": "agreed_change", "words": "new film"}), "close",
                  of=flag(id="f3"))
    still_open = case("cause", "action", of=flag(id="f4"))
    back = case("cause", "action", "close", "reopen", of=flag(id="f5"))
    assert experience_of([closed, own, agreed, still_open, back]) == {
        ("lifted_edge", FOUND["code"]): 1, ("bubble", "wet board"): 1}
