"""What the bench offers to choose from, and how the job on it stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.desk.shares import share_of
from qc.desk.shop import Shop
from qc.domain.counting import count_once
from qc.domain.days import day_start_us
from qc.domain.instants import DAY_US
from qc.domain.kinds import defect_kinds
from qc.domain.records import RECIPES
from qc.presses.recipes import Coded, recipes_applied
from qc.store.codes import known_codes
from qc.store.frames import plain_value
from qc.store.inspections import read_findings, read_looks
from qc.store.newest import newest_pressed
from qc.store.records import read_records
from qc.store.work import job_began_us, jobs_now, work_counts

RECENT_DAYS = 7
"""How far back jobs, people and lots are offered."""
MOST_RECENT = 20_000
"""Looks at the pieces pressed last that are gone through for them."""
JOB_DAYS = 120
"""How far back a job's first piece is looked for."""
USUAL_DAYS = 90
LEAST_USUAL = 30
"""Fewer other pieces say nothing of what is usual. A proposed starting value, no source."""
MOST_JOBS = 200
JOB_FIELDS = ("fabric", "transfer", "location", "press", "transfer_lot", "garment_lot")
_RECENT = ("job", "inspected_at", *JOB_FIELDS, "operator", "inspector", "size", "station")
_LOOKS = ("piece_id", "attempt", "inspected_at", "pressed_at", "stage", "location", "press",
          "fabric", "transfer", "disposition", "pieces", "defective")


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchJob:
    """A job that can be on the bench; what is None was never said."""

    job: str
    fields: dict[str, str | None]
    ordered: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchLists:
    """What can be chosen at the bench. ``places``: each with what is known of it in stored units;
    ``seen``: people, sizes and stations of the last days, by field."""

    presses: dict[str, str | None]
    fabrics: dict[str, str | None]
    transfers: dict[str, str | None]
    places: dict[str, dict[str, Any]]
    jobs: tuple[BenchJob, ...]
    seen: dict[str, tuple[str, ...]]
    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToPressAgain:
    """A piece whose newest look says press again; ``found``: kinds with their place on the print.
    """

    piece_id: str
    attempt: int
    location: str | None
    stage: str
    press: str
    pressed_at_us: int
    found: tuple[tuple[str, str | None], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobStanding:
    """How a job stands: pieces counted once by their first looks.

    Without a job it is today's pieces of this work that name none. ``share`` with its 95 %
    interval (Wilson) is None without pieces. ``usual`` is the share of ``n_usual`` other pieces of
    this fabric, transfer and place in the last `USUAL_DAYS` days; None where they are fewer than
    `LEAST_USUAL`. ``kinds``: how often each kind was found on this work then, commonest first.
    """

    n_pieces: int
    n_defective: int
    share: float | None
    low: float | None
    high: float | None
    usual: float | None
    n_usual: int
    kinds: dict[str, int]
    again: tuple[ToPressAgain, ...]


def bench_lists(shop: Shop, *, as_of_us: int) -> BenchLists:
    """What can be chosen at the bench as of a moment."""
    recent = newest_pressed(
        shop.store, as_of_us=as_of_us, columns=list(dict.fromkeys(_RECENT)),
        since_us=as_of_us - RECENT_DAYS * DAY_US, at_most=MOST_RECENT)
    own = known_codes(shop.store)["kinds"] - set(defect_kinds())
    places = {str(row["location"]): {str(name): plain_value(value) for name, value in row.items()}
              for row in read_records(shop.store, "placements").to_dict("records")}
    return BenchLists(
        presses=_names(shop, "presses", "press"), fabrics=_names(shop, "fabrics", "fabric"),
        transfers=_names(shop, "transfers", "transfer"),
        places=places | {place: {} for place in _levels(recent, "location") if place not in places},
        jobs=_jobs(shop, recent),
        seen={name: _levels(recent, name)
              for name in ("operator", "inspector", "size", "station", "transfer_lot",
                           "garment_lot")},
        kinds=(*defect_kinds(), *sorted(own)),
    )


def job_standing(
    shop: Shop, *, job: str, fabric: str, transfer: str, location: str | None, as_of_us: int
) -> JobStanding:
    """How a job stands as of a moment."""
    usual = work_counts(shop.store, fabric=fabric, transfer=transfer, location=location,
                        since_us=as_of_us - USUAL_DAYS * DAY_US)
    work = {"fabric": fabric, "transfer": transfer, "location": location}
    looks, findings = (_job_looks(shop, job, as_of_us) if job
                       else _looks_without_job(shop, work, as_of_us))
    pieces = count_once(looks, findings).pieces
    n, bad = int(pieces["n"].sum()), int(pieces["n_defective"].sum())
    found = share_of(bad, n)
    # its own pieces are no measure of the job
    mine = pieces[_is_work(pieces, work) & pieces["had_prompt"].to_numpy(dtype=bool)]
    n_others = usual.n - int(mine["n"].sum())
    bad_others = max(usual.n_defective - int(mine["n_defective"].sum()), 0)
    return JobStanding(
        n_pieces=n, n_defective=bad,
        share=found.share if found else None, low=found.low if found else None,
        high=found.high if found else None,
        usual=bad_others / n_others if n_others >= LEAST_USUAL else None,
        n_usual=max(n_others, 0),
        kinds=dict(sorted(usual.kinds.items(), key=lambda item: (-item[1], item[0]))),
        again=_again(looks, findings),
    )


def recipe_now(
    shop: Shop, *, fabric: str, transfer: str, as_of_us: int
) -> dict[str, Any] | None:
    """What the recipe of a fabric and transfer asks as of a moment, in stored units; None without
    a recipe. Fields it does not speak of are None."""
    recipes = read_records(shop.store, "recipes", as_of_us=as_of_us)
    if recipes.empty:
        return None
    one = np.zeros(1, dtype=np.int64)
    row = int(recipes_applied(Coded(one, (fabric,)), Coded(one, (transfer,)), one + as_of_us,
                              recipes).now[0])
    if row < 0:
        return None
    found = recipes.iloc[row]
    return {field.name: plain_value(found.get(field.name)) for field in RECIPES.fields}


def _names(shop: Shop, kind: str, code: str) -> dict[str, str | None]:
    """Names by code; codes that came with records and have no row of their own too."""
    named = {str(row[code]): plain_value(row.get("name"))
             for row in read_records(shop.store, kind).to_dict("records")}
    return {one: named.get(one) for one in sorted(known_codes(shop.store)[kind])}


def _levels(recent: pd.DataFrame, name: str) -> tuple[str, ...]:
    return tuple(sorted(str(level) for level in recent[name].dropna().unique()))


def _jobs(shop: Shop, recent: pd.DataFrame) -> tuple[BenchJob, ...]:
    """Jobs not shipped yet and those of the last days, the one last looked at first."""
    order = np.argsort(recent["inspected_at"].to_numpy(dtype=np.int64), kind="stable")[::-1]
    newest = recent.iloc[order].dropna(subset=["job"]).drop_duplicates("job")
    found: dict[str, dict[str, Any]] = {
        str(row["job"]): {name: plain_value(row[name]) for name in JOB_FIELDS}
        for row in newest.head(MOST_JOBS).to_dict("records")}
    ordered: dict[str, int | None] = {}
    for row in jobs_now(shop.store, list(found), at_most=MOST_JOBS).to_dict("records"):
        job, shipped = str(row["job"]), plain_value(row.get("shipped_at")) is not None
        if shipped or (job not in found and len(found) >= MOST_JOBS):
            found.pop(job, None)
            continue
        said = {name: plain_value(row.get(name)) for name in ("fabric", "transfer", "location")}
        seen = found.get(job, dict.fromkeys(JOB_FIELDS))
        found[job] = seen | {name: value for name, value in said.items() if value is not None}
        ordered[job] = plain_value(row.get("ordered"))
    return tuple(BenchJob(job=job, fields=fields, ordered=ordered.get(job))
                 for job, fields in found.items())


def _job_looks(shop: Shop, job: str, as_of_us: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Looks at a job's pieces and their findings; a look back no further than the job goes."""
    began = job_began_us(shop.store, job, since_us=as_of_us - JOB_DAYS * DAY_US)
    since = as_of_us + 1 if began is None else began
    only = {"job": job}
    return (read_looks(shop.store, as_of_us=as_of_us, columns=_LOOKS, since_us=since, only=only),
            read_findings(shop.store, as_of_us=as_of_us, since_us=since, only=only))


def _looks_without_job(
    shop: Shop, work: Mapping[str, str | None], as_of_us: int
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Today's looks at pieces of one kind of work that name no job, and their findings."""
    since = day_start_us(as_of_us, shop.zone)
    only = {name: code for name, code in work.items() if code is not None}
    looks = read_looks(shop.store, as_of_us=as_of_us, columns=(*_LOOKS, "job"), since_us=since,
                       only=only)
    findings = read_findings(shop.store, as_of_us=as_of_us, since_us=since, only=only)
    looks = looks[looks["job"].isna().to_numpy() & _is_work(looks, work)]
    return looks, findings[findings["look"].isin(looks.index)]


def _is_work(rows: pd.DataFrame, work: Mapping[str, str | None]) -> npt.NDArray[np.bool_]:
    """Which rows are of one fabric, transfer and place; no place is a place of its own."""
    is_work = np.ones(len(rows), dtype=bool)
    for name, code in work.items():
        column = rows[name].astype(object)
        is_work &= (column.isna() if code is None else column == code).to_numpy(dtype=bool)
    return is_work


def _again(looks: pd.DataFrame, findings: pd.DataFrame) -> tuple[ToPressAgain, ...]:
    """Pieces whose newest look says press again, the one that waits longest first."""
    order = np.lexsort((looks["inspected_at"].to_numpy(dtype=np.int64),
                        looks["attempt"].to_numpy(dtype=np.int64)))
    newest = looks.iloc[order].drop_duplicates(["piece_id", "location"], keep="last")
    waiting = newest[(newest["disposition"] == "press_again").to_numpy(dtype=bool, na_value=False)]
    zones = findings["zone"].astype(object)
    pairs = pd.Series(list(zip(findings["kind"].astype(object), zones.where(zones.notna(), None),
                               strict=True)), index=findings["look"].to_numpy(), dtype=object)
    found = pairs.groupby(level=0).agg(list)
    return tuple(
        ToPressAgain(piece_id=str(row["piece_id"]), attempt=int(row["attempt"]),
                     location=plain_value(row["location"]), stage=str(row["stage"]),
                     press=str(row["press"]), pressed_at_us=int(row["pressed_at"]),
                     found=tuple(dict.fromkeys(found.get(look, []))))
        for look, row in waiting.sort_values("inspected_at").to_dict("index").items())
