"""What the bench offers and how a job stands, beside plain counts of the records."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from qc.desk.bench import bench_lists, job_standing, recipe_now
from qc.desk.correcting import WhichLook, take_back
from qc.desk.recording import Entry, record_entries
from qc.desk.shop import Shop
from qc.domain.instants import DAY_US, HOUR_US
from qc.store.inspections import read_findings, read_looks
from qc.store.records import add_records
from tests.dashboard.small_shop import END_US, build_shop

JOB = "J039A"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = build_shop(tmp_path)
    yield made
    made.store.close()


def work(shop: Shop) -> tuple[pd.DataFrame, pd.DataFrame]:
    return (read_looks(shop.store, as_of_us=END_US),
            read_findings(shop.store, as_of_us=END_US))


def test_a_job_stands_as_its_pieces_do(shop: Shop) -> None:
    looks, found = work(shop)
    mine = looks[(looks["job"] == JOB).to_numpy()]
    fabric = str(mine["fabric"].iloc[0])
    standing = job_standing(shop, job=JOB, fabric=fabric, transfer="film-matt", location="chest",
                            as_of_us=END_US)
    assert standing.n_pieces == len(mine)
    assert standing.n_defective == found["look"].isin(mine.index).groupby(found["look"]).max().sum()
    same = looks[(looks["fabric"] == fabric).to_numpy()
                 & (looks["transfer"] == "film-matt").to_numpy()
                 & (looks["location"] == "chest").to_numpy()]
    bad = found[found["look"].isin(same.index)]
    others = same[(same["job"] != JOB).to_numpy(dtype=bool, na_value=True)]
    assert standing.n_usual == len(others) < len(same)  # its own pieces are no measure of it
    n_bad = bad[bad["look"].isin(others.index)]["look"].nunique()
    assert standing.usual == pytest.approx(n_bad / len(others))
    assert standing.kinds == bad["kind"].value_counts().loc[lambda n: n > 0].to_dict()
    assert list(standing.kinds.values()) == sorted(standing.kinds.values(), reverse=True)
    assert standing.low < standing.share < standing.high if standing.n_defective else True


def test_without_a_job_or_usual_work_nothing_is_made_up(shop: Shop) -> None:
    none = job_standing(shop, job="", fabric="rib-fine", transfer="film-matt", location="chest",
                        as_of_us=END_US)
    assert (none.n_pieces, none.share, none.low) == (0, None, None) and none.usual is not None
    new = job_standing(shop, job="NEW", fabric="rib-fine", transfer="no-such", location=None,
                       as_of_us=END_US)
    assert (new.n_pieces, new.usual, new.n_usual, new.kinds) == (0, None, 0, {})


def test_what_waits_to_be_pressed_again_is_listed_until_it_was(shop: Shop) -> None:
    def entry(piece: str, attempt: int, disposition: str, minute: int) -> Entry:
        return Entry(name=f"{piece}{attempt}", action="look", piece_id=piece, attempt=attempt,
                     location="chest", stage="final", by="Mia", fields={
                         "inspected_at": f"2026-04-10T16:{minute:02d}:00Z", "press": "Anvil",
                         "fabric": "rib-fine", "transfer": "film-matt", "job": JOB,
                         "defects": "" if disposition == "pass" else "lifted_edge@top;bubble",
                         "disposition": disposition})

    record_entries(shop, [entry("X1", 1, "press_again", 1), entry("X2", 1, "press_again", 2),
                          entry("X3", 1, "press_again", 0), entry("X2", 2, "pass", 5)],
                   device="d", at_us=END_US + HOUR_US)
    named = {"job": JOB, "fabric": "rib-fine", "transfer": "film-matt", "location": "chest",
             "as_of_us": END_US + HOUR_US}
    waiting = job_standing(shop, **named).again
    assert [one.piece_id for one in waiting] == ["X3", "X1"]
    assert waiting[0].found == (("lifted_edge", "top"), ("bubble", None))
    assert (waiting[0].press, waiting[0].pressed_at_us) == ("Anvil", END_US)
    take_back(shop, WhichLook(piece_id="X3"), why="slip", by="Mia", at_us=END_US + HOUR_US)
    assert [one.piece_id for one in job_standing(shop, **named).again] == ["X1"]


def test_pieces_that_name_no_job_are_today_s_of_the_same_work(shop: Shop) -> None:
    def entry(piece: str, place: str | None, **fields: str) -> Entry:
        return Entry(name=piece, action="look", piece_id=piece, attempt=1, location=place,
                     stage="final", by="Mia", fields={
                         "inspected_at": "2026-04-10T16:00:00Z", "press": "Anvil",
                         "fabric": "rib-fine", "transfer": "film-matt"} | fields)

    record_entries(shop, [
        entry("L1", None), entry("L2", None, defects="lifted_edge", disposition="press_again"),
        entry("L3", "chest"), entry("L4", None, job=JOB),
        entry("L5", None, inspected_at="2026-04-09T16:00:00Z")], device="d", at_us=END_US + HOUR_US)
    none = job_standing(shop, job="", fabric="rib-fine", transfer="film-matt", location=None,
                        as_of_us=END_US + HOUR_US)
    assert (none.n_pieces, none.n_defective) == (2, 1)
    assert [one.piece_id for one in none.again] == ["L2"]
    assert (none.usual, none.n_usual) == (None, 2)  # two other pieces say nothing of what is usual


def test_jobs_come_newest_first_and_without_those_shipped(shop: Shop) -> None:
    add_records(shop.store, "jobs", pd.DataFrame({
        "job": ["J039B", "J039C", "WAITING"], "fabric": [None, None, "rib-fine"],
        "ordered": pd.array([40, 30, 20], dtype="Int64"),
        "shipped_at": pd.array([END_US, None, None], dtype="Int64")}),
        by="test", at_us=END_US, source=None)
    jobs = {one.job: one for one in bench_lists(shop, as_of_us=END_US).jobs}
    looks, _ = work(shop)
    last = looks.sort_values("inspected_at").dropna(subset=["job"])["job"].iloc[-1]
    assert next(iter(jobs)) == last or last == "J039B"
    assert "J039B" not in jobs and jobs["J039C"].ordered == 30
    assert jobs["WAITING"].fields["fabric"] == "rib-fine"
    assert jobs["J039C"].fields["press"] == "Cedar"
    old = looks.loc[looks["pressed_at"] < END_US - 9 * DAY_US, "job"].dropna().unique()
    assert not set(old) & set(jobs)


def test_the_recipe_is_the_one_that_counts_now(shop: Shop) -> None:
    assert recipe_now(shop, fabric="rib-fine", transfer="film-matt", as_of_us=END_US) is None
    add_records(shop.store, "recipes", pd.DataFrame({
        "fabric": "rib-fine", "transfer": "film-matt", "version": ["1", "2", "3"],
        "valid_from": pd.array([None, END_US - DAY_US, END_US + DAY_US], dtype="Int64"),
        "temperature_c": [150.0, 155.0, 160.0]}), by="test", at_us=END_US, source=None)
    found = recipe_now(shop, fabric="rib-fine", transfer="film-matt", as_of_us=END_US)
    assert found is not None and found["temperature_c"] == 155.0 and found["peel"] is None
    assert not any(isinstance(value, float) and np.isnan(value) for value in found.values())
    assert recipe_now(shop, fabric="rib-fine", transfer="foam-raised", as_of_us=END_US) is None
