"""The baseline at the desk: proposed, frozen with a name and a reason, outdated by a change."""

from __future__ import annotations

from typing import Any

import pytest

from qc.desk.baseline import (
    LEAST_PIECES,
    Period,
    baseline_standing,
    freeze_baseline,
    outdated,
    tell_agreed_change,
)
from qc.desk.baseline_words import baseline_cautions, judged, proposed, rests_on
from qc.desk.decisions import decisions
from qc.desk.flags import current_flags
from qc.desk.shop import Shop, change_setting
from qc.domain.instants import DAY_US, HOUR_US, parse_instant
from qc.errors import InputError
from qc.store import Store
from qc.store.audit import read_audit
from qc.store.baselines import read_baselines
from qc.store.settings import read_settings
from tests.qc.desk.baseline_shop import END_US, N_DAYS, START_US, add_recipe, filled


def day(number: float) -> int:
    return START_US + int(number * DAY_US)


@pytest.fixture
def shop(sqlite_store: Store) -> Shop:
    return filled(sqlite_store)


def freeze(shop: Shop, period: Period | None = None, **more: Any) -> None:
    given: dict[str, Any] = {"by": "ann", "why": "a calm month", "at_us": END_US}
    freeze_baseline(shop, period=period, **given | more)


def test_from_proposal_to_a_new_one_after_an_agreed_change(store: Store) -> None:
    shop = filled(store)
    before = baseline_standing(shop, as_of_us=day(30))
    assert (before.state, before.decision, before.changes) == ("open", None, ())
    assert before.proposal is not None and before.proposal.is_ready
    assert (before.proposal.from_us, before.proposal.until_us) == (day(0), day(30))
    assert before.proposal.n_pieces == 30 * 60
    freeze(shop, at_us=day(30))
    frozen = baseline_standing(shop, as_of_us=day(31))
    assert frozen.state == "frozen" and frozen.decision is not None
    made = frozen.decision.decision
    assert (made.by, made.why, made.decided_at_us) == ("ann", "a calm month", day(30))
    assert (made.from_us, made.until_us) == (day(0), day(30))
    assert frozen.decision.evidence["n_pieces"] == 1800
    assert frozen.decision.evidence["holds"] is True
    tell_agreed_change(shop, changed_us=day(31.5), by="bo", why="new film", at_us=day(32))
    assert baseline_standing(shop, as_of_us=day(31)).state == "frozen"
    waits = baseline_standing(shop, as_of_us=day(40))
    assert waits.state == "waiting" and waits.proposal is not None
    assert waits.proposal.from_us == day(31.5)  # not a piece from before the change
    assert waits.proposal.n_days == 9 and waits.proposal.wait is not None
    # 28 of the 60 pieces of that day were pressed after noon; 1000 are asked for
    assert waits.proposal.n_pieces == 28 + 8 * 60
    assert waits.proposal.wait.n_pieces == 1000 - waits.proposal.n_pieces
    assert waits.proposal.wait.n_days == 11
    freeze(shop, Period(from_us=day(31.5), until_us=day(45)), at_us=day(46), why="new film")
    again = baseline_standing(shop, as_of_us=day(47))
    assert (again.state, again.changes, len(again.history)) == ("frozen", (), 2)
    known = decisions(shop, as_of_us=day(47))
    assert [one.agreed_us for one in known] == [(), (day(31.5),)]
    assert decisions(shop, as_of_us=day(45)) == (known[0],)
    log = read_audit(store)
    assert log["what"].tolist()[-3:] == ["freeze baseline", "tell agreed change",
                                         "freeze baseline"]
    assert "new film" in log["detail"].tolist()[-1]


def test_a_new_one_is_ready_once_there_is_enough(shop: Shop) -> None:
    freeze(shop, at_us=day(25))
    tell_agreed_change(shop, changed_us=day(26), by="bo", why="new film", at_us=day(26))
    found = outdated(shop, as_of_us=END_US)
    assert found is not None and found.state == "ready" and found.proposal is not None
    assert (found.proposal.from_us, found.proposal.until_us) == (day(26), END_US)
    (said,) = baseline_cautions(found, shop)
    assert said == (
        "The process was changed on purpose on 28 Mar 2026: new film (bo). Usual rates still rest "
        "on work from before it, and work from before and after is not mixed: a new baseline is "
        "ready to be frozen (qc baseline --freeze).")
    assert said in current_flags(shop, as_of_us=END_US).cautions
    assert outdated(shop, as_of_us=day(25.5)) is None
    (soon,) = baseline_cautions(outdated(shop, as_of_us=day(30)), shop)
    assert soon.endswith("a new baseline needs 760 more pieces, about 16 more days of work.")
    freeze(shop)
    assert outdated(shop, as_of_us=END_US) is None
    assert current_flags(shop, as_of_us=END_US).cautions == ()


def test_a_change_outdates_also_what_nobody_froze(shop: Shop) -> None:
    tell_agreed_change(shop, changed_us=day(40), by="bo", why="new film", at_us=day(40))
    assert baseline_standing(shop, as_of_us=day(45)).state == "waiting"
    later = change_setting(shop, name="baseline_from", value="2026-04-12", by="ann",
                           at_us=day(41))
    assert baseline_standing(later, as_of_us=day(45)).state == "open"  # it begins after the change


def test_a_recipe_of_much_of_the_work_is_an_agreed_change(shop: Shop) -> None:
    add_recipe(shop.store, "1", valid_from=None, dwell_s=15.0)
    add_recipe(shop.store, "2", valid_from=day(30), dwell_s=12.0)
    add_recipe(shop.store, "3", valid_from=day(35), dwell_s=12.0)  # says nothing new
    add_recipe(shop.store, "4", valid_from=day(60), dwell_s=10.0)  # not yet
    found = baseline_standing(shop, as_of_us=END_US)
    (change,) = found.changes
    assert (change.at_us, change.by) == (day(30), "lee")
    assert change.why == "recipe version 2 of fleece with film"
    assert found.proposal is not None and found.proposal.from_us == day(30)
    assert baseline_standing(shop, as_of_us=day(29)).changes == ()


def test_the_setting_is_the_simplest_decision(shop: Shop) -> None:
    shop = change_setting(shop, name="baseline_from", value="2026-03-10", by="ann", at_us=END_US)
    (one,) = decisions(shop, as_of_us=END_US)
    assert one.from_us == parse_instant("2026-03-10", shop.zone)
    assert (one.decided_at_us, one.until_us) == (0, None)
    found = baseline_standing(shop, as_of_us=END_US)
    assert (found.state, found.setting_from_us) == ("open", one.from_us)
    assert "from 10 Mar 2026 on, by the setting baseline_from" in rests_on(found, shop)
    freeze(shop)
    assert len(decisions(shop, as_of_us=END_US)) == 2
    assert rests_on(baseline_standing(shop, as_of_us=END_US), shop) == (
        "Usual rates rest on the work from 2 Mar 2026 to 20 Apr 2026, frozen by ann.")


@pytest.mark.parametrize(("period", "words"), [
    (Period(from_us=day(20), until_us=day(10)), r"would end \(2026-03-12.*before it begins"),
    (Period(from_us=day(20), until_us=day(20)), "before it begins"),
    (Period(from_us=day(20), until_us=END_US + 1), "in the future"),
    (Period(from_us=END_US + 1, until_us=None), "in the future"),
    (Period(from_us=day(20), until_us=day(22)),
     f"only 120 pieces were pressed in that period; a baseline needs at least {LEAST_PIECES}"),
    (Period(from_us=day(-9), until_us=day(-2)), "only 0 pieces"),
    (Period(from_us=day(30), until_us=day(42)), "changed on purpose at 2026-04-11T00:00:00.*"
                                                "before or after it, not across"),
    (Period(from_us=day(30), until_us=None), "not across it"),
])
def test_nonsense_is_refused_in_one_line(shop: Shop, period: Period, words: str) -> None:
    tell_agreed_change(shop, changed_us=day(40), by="bo", why="new film", at_us=day(40))
    with pytest.raises(InputError, match=words) as refused:
        freeze(shop, period)
    assert "\n" not in str(refused.value)
    assert read_baselines(shop.store) == ()


def test_nobody_no_reason_no_work_is_refused(shop: Shop) -> None:
    with pytest.raises(InputError, match="needs a name"):
        freeze(shop, by=" ")
    with pytest.raises(InputError, match="needs a reason"):
        freeze(shop, why="")
    with pytest.raises(InputError, match="not enough work yet to propose a baseline"):
        freeze(shop, at_us=day(4))
    with pytest.raises(InputError, match="the change would be in the future"):
        tell_agreed_change(shop, changed_us=END_US + 1, by="a", why="b", at_us=END_US)
    assert read_baselines(shop.store) == ()


def test_what_was_left_out_of_a_chosen_period_is_kept_with_it(sqlite_store: Store) -> None:
    shop = filled(sqlite_store, raised=(("P2", 12, 24, 6.0),))
    period = Period(from_us=day(0), until_us=day(24))
    freeze(shop, period, at_us=day(24))
    (kept,) = read_baselines(shop.store)
    assert current_flags(shop, as_of_us=day(24)).flags
    assert kept.evidence["n_pieces"] == 24 * 60
    # the pieces of the change, from the early end of its start on: some good days before it too
    assert 250 < kept.evidence["n_left_out"] <= 12 * 30 + 5 * 30
    assert baseline_standing(shop, as_of_us=day(24)).decision == kept


def test_a_flagged_press_is_left_out_by_piece(sqlite_store: Store) -> None:
    shop = filled(sqlite_store, raised=(("P2", 30, 50, 7.0),))
    flags = [flag for flag in current_flags(shop, as_of_us=END_US).flags
             if flag.characteristic == "lifted_edge"]
    assert flags
    found = baseline_standing(shop, as_of_us=END_US).proposal
    assert found is not None and found.is_ready
    assert found.n_days == N_DAYS
    assert found.n_left_out == pytest.approx(20 * 30, abs=3 * 30)
    (edges,) = [count for count in found.defects if count.kind == "lifted_edge"]
    assert edges.n_looked == N_DAYS * 60 - found.n_left_out
    # at the usual 0.03 a piece, within four standard errors; with the fault it would be 0.066
    usual = 0.03 * edges.n_looked
    assert edges.n_defects == pytest.approx(usual, abs=4 * usual**0.5)
    assert f"concerned: {found.n_left_out} of the " in " ".join(
        judged(found, shop))


def test_after_an_agreed_change_its_own_rise_is_not_left_out(sqlite_store: Store) -> None:
    shop = filled(sqlite_store, raised=(("P1", 25, 50, 4.0), ("P2", 25, 50, 4.0)))
    flags = current_flags(shop, as_of_us=END_US).flags
    assert any(flag.characteristic == "lifted_edge" for flag in flags)
    tell_agreed_change(shop, changed_us=day(25), by="bo", why="new film", at_us=day(26))
    found = baseline_standing(shop, as_of_us=END_US).proposal
    assert found is not None and found.from_us == day(25)
    (edges,) = [count for count in found.defects if count.kind == "lifted_edge"]
    new = 0.12 * edges.n_looked
    assert edges.n_looked == 25 * 60
    assert edges.n_defects == pytest.approx(new, abs=4 * new**0.5)


def test_days_are_those_of_the_shops_clock(sqlite_store: Store) -> None:
    shop = filled(sqlite_store, zone="Asia/Kolkata")  # UTC+05:30: a day begins at 18:30 UTC
    found = baseline_standing(shop, as_of_us=END_US).proposal
    assert found is not None
    assert found.from_us == day(0) - 5.5 * HOUR_US
    assert "2 Mar 2026 to" in proposed(found, shop)


def test_an_empty_shop_has_nothing_to_propose(sqlite_store: Store) -> None:
    shop = Shop(sqlite_store, read_settings(sqlite_store))
    found = baseline_standing(shop, as_of_us=END_US)
    assert (found.state, found.proposal) == ("open", None)
    assert "all records so far" in rests_on(found, shop)
    with pytest.raises(InputError, match="not enough work"):
        freeze(shop)


def test_flags_after_it_are_judged_by_the_new_baseline(sqlite_store: Store) -> None:
    """Everything lifts three times as often from day 25 on, as agreed; P2 goes wrong on day 62."""
    wanted = (("P1", 25, 85, 3.0), ("P2", 25, 85, 3.0))
    shop = filled(sqlite_store, n_days=85, raised=(*wanted, ("P2", 62, 85, 2.5)))
    tell_agreed_change(shop, changed_us=day(25), by="bo", why="new film", at_us=day(26))
    before = current_flags(shop, as_of_us=day(52)).flags
    assert any(flag.characteristic == "lifted_edge" for flag in before)
    freeze(shop, at_us=day(52), why="new film")
    after = {flag.id: flag for flag in current_flags(shop, as_of_us=day(85)).flags}
    for flag in before:  # given flags stay given
        assert after[flag.id].signalled_at_us == flag.signalled_at_us
    new = [flag for flag in after.values() if flag.signalled_at_us >= day(52)]
    assert all(flag.signalled_at_us >= day(62) for flag in new)
    (found,) = [flag for flag in new if flag.characteristic == "lifted_edge"]
    assert (found.factor.name, found.factor.level) == ("press", "P2")
    assert found.expected_after == pytest.approx(0.09, rel=0.3)  # not 0.03, not 0.225
    assert [flag.id for flag in after.values()
            if flag.is_open and flag.characteristic == "lifted_edge"] == [found.id]


def test_after_an_agreed_change_the_new_level_is_what_is_proposed(sqlite_store: Store) -> None:
    wanted = (("P1", 25, 62, 3.0), ("P2", 25, 62, 3.0))
    shop = filled(sqlite_store, n_days=62, raised=wanted)
    assert current_flags(shop, as_of_us=day(52)).flags
    tell_agreed_change(shop, changed_us=day(25), by="bo", why="new film", at_us=day(26))
    for at in (52, 62):
        found = baseline_standing(shop, as_of_us=day(at)).proposal
        assert found is not None and found.is_ready and found.from_us == day(25)
        (edges,) = [count for count in found.defects if count.kind == "lifted_edge"]
        new = 0.09 * edges.n_looked
        assert edges.n_defects == pytest.approx(new, abs=4 * new**0.5)


def test_a_press_broken_before_an_agreed_change_stays_left_out(sqlite_store: Store) -> None:
    shop = filled(sqlite_store, raised=(("P2", 17, 50, 7.0),))
    assert any(flag.factor.level == "P2" and flag.signalled_at_us < day(25)
               for flag in current_flags(shop, as_of_us=day(45)).flags)
    tell_agreed_change(shop, changed_us=day(25), by="bo", why="new film", at_us=day(26))
    found = baseline_standing(shop, as_of_us=day(45)).proposal
    assert found is not None and found.from_us == day(25)
    (edges,) = [count for count in found.defects if count.kind == "lifted_edge"]
    assert edges.n_looked == pytest.approx(20 * 30, abs=60)
    usual = 0.03 * edges.n_looked
    assert edges.n_defects == pytest.approx(usual, abs=4 * usual**0.5)
