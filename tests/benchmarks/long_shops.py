"""Invented shops with a long history, for benchmarks of what grows with it.

A shop of sixteen presses that does about 3 240 pieces a working day: a hundred thousand are its
first five weeks, ten million are ten years of it. At another pace it takes other times, but five
weeks at least, so that a view of a month shows as many days of either. It is simulated a month at
a time, so that memory stays small, and every day's looks come in as a file of their own, through
the same way in as everybody's files. Surveys, checks and pulls are those of one maintenance round
over the whole time.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from demo_data import demo_spec, simulate
from demo_data.files import LISTS, RECORDS
from demo_data.shop import SimulatedShop
from demo_data.spec import Service, ShopSpec
from demo_data.things import PEOPLE, PRESSES
from qc.desk.loading import LoadRequest, load_files
from qc.desk.shop import Shop, change_setting, open_shop

N_PRESSES = 16
PIECES_A_DAY = 3_240
"""Of a working day, Monday to Saturday; 9 600, 600 a press, is one piece every 75 s."""
LEAST_DAYS = 36
MONTH_DAYS = 28
SEED = 20_261_120
JOBS_A_MONTH = 100_000
"""Room for the job numbers of a month; a job is named once in the whole history."""


def long_spec(n_pieces: int, a_day: int = PIECES_A_DAY) -> ShopSpec:
    """The shop with as many days as the pieces take at a pace of so many a working day; its last
    day is that of the demo shop."""
    demo = demo_spec()
    presses = tuple(
        replace(PRESSES[at % len(PRESSES)], code=f"P{at + 1}", name=f"Press {at + 1}")
        for at in range(N_PRESSES))
    days = max(LEAST_DAYS, round(n_pieces / a_day * 7 / 6))
    # platens are adjusted about twice a year, one after the other
    services = tuple(
        Service(press=f"P{at % N_PRESSES + 1}", day=day, offset_c=-2.5)
        for at, day in enumerate(range(11, days - 20, 11)))
    return replace(
        demo, name="Longacre Press House", presses=presses, operators=PEOPLE, days=days,
        n_pieces=n_pieces, faults=(), long_lots=(), services=services)


def build_long_shop(place: Path, spec: ShopSpec) -> None:
    """Fill a new store with the shop; the file appears only when it is complete."""
    with tempfile.TemporaryDirectory(prefix=".long-", dir=place.parent) as made:
        folder = Path(made)
        shop = open_shop(str(folder / "shop.db"), create=True)
        try:
            _fill(shop, spec, folder)
        finally:
            shop.store.close()
        (folder / "shop.db").rename(place)


def _fill(shop: Shop, spec: ShopSpec, folder: Path) -> None:
    frame_shop = simulate(replace(spec, n_pieces=40 * spec.days), SEED)
    for name, value in frame_shop.settings.items():
        shop = change_setting(shop, name=name, value=value, by="benchmark",
                              at_us=frame_shop.start_us)
    for kind in (*LISTS, *RECORDS):
        if kind not in ("jobs", "inspections"):
            _load(shop, frame_shop.frames[kind], folder / f"{kind}.csv", frame_shop.start_us
                  if kind in LISTS else frame_shop.end_us)
    for month in _months(spec):
        _load(shop, month.frames["jobs"], folder / "jobs.csv", month.end_us)
        looks = month.frames["inspections"]
        for day, rows in looks.groupby(looks["inspected_at"].str[:10], sort=True):
            at_us = int(pd.Timestamp(f"{day}T23:59:00Z").value // 1000)
            _load(shop, rows, folder / "inspections.csv", at_us)


def _months(spec: ShopSpec) -> Iterator[SimulatedShop]:
    """The shop's work, a month at a time, oldest first."""
    ends = list(range(spec.days, 0, -MONTH_DAYS))[::-1]
    pieces = np.diff(np.round(np.array([0, *ends]) / spec.days * spec.n_pieces)).astype(int)
    for number, (end, n_pieces) in enumerate(zip(ends, pieces.tolist(), strict=True)):
        days = min(MONTH_DAYS, end)
        month = simulate(
            replace(spec, days=days, n_pieces=n_pieces, services=(),
                    until=spec.until - timedelta(days=spec.days - end),
                    first_job=1001 + number * JOBS_A_MONTH),
            SEED + number)
        for lot in ("transfer_lot", "garment_lot"):  # numbered anew each month: say which
            said = month.frames["inspections"][lot]
            month.frames["inspections"][lot] = said + f"-{number:02d}"
        yield month


def _load(shop: Shop, rows: pd.DataFrame, file: Path, at_us: int) -> None:
    rows.to_csv(file, index=False, lineterminator="\n")
    report = load_files(shop, LoadRequest(paths=(str(file),)), by="benchmark", at_us=at_us)
    file.unlink()
    if report.exit_code:
        raise RuntimeError(f"{file.name} did not load whole: {report.files[0]}")
