"""The simulator: an invented shop, its records in file form, and the truth about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from demo_data.blocks import in_stacks
from demo_data.clock import local_texts
from demo_data.faults import plant
from demo_data.findings import Findings
from demo_data.looks import Looks, make_looks
from demo_data.placement import measured_placement
from demo_data.plan import Ints, Plan, make_plan
from demo_data.rates import make_rates
from demo_data.settings import recipe_frame, shown_settings
from demo_data.spec import ShopSpec
from demo_data.surveys import GAUGE, INSTRUMENTS, STOPWATCH, check_frame, pull_frame, survey_frame
from demo_data.truth import Planted
from demo_data.world import Changes, World
from qc.domain.instants import DAY_US, HOUR_US

SHIPS_AT_US = 15 * HOUR_US
"""When the van comes, after midnight UTC."""
FORGOTTEN = {
    "transfer_lot": 0.02, "garment_lot": 0.02, "operator": 0.01, "size": 0.01,
    "temperature_c": 0.02, "dwell_s": 0.02, "pressure_kpa": 0.03, "pressure_dial": 0.03,
    "peel_wait_s": 0.05, "inspector": 0.02,
}
"""Share of the rows in which a field is left empty, in an ordinary shop."""

CODED = ("press", "station", "fabric", "transfer", "location", "size", "job", "garment_lot",
         "transfer_lot", "operator")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedShop:
    """An invented shop.

    ``frames``: by record kind, with the columns of its file. ``usual``: (first looks, kinds) usual
    number of defects at the first look from fabric, transfer and place alone, indexed by the piece
    id it is written under, columns the codes of kinds. ``settings``: shop settings to
    store. Instants in microseconds UTC.
    """

    name: str
    zone: str
    start_us: int
    end_us: int
    frames: dict[str, pd.DataFrame]
    truth: tuple[Planted, ...]
    usual: pd.DataFrame
    settings: dict[str, str]


def simulate(spec: ShopSpec, seed: int) -> SimulatedShop:
    """The shop that this specification and this seed give; the same ones, the same shop.

    Faults change neither the plan nor the honest rates: a shop without them and with the same
    seed has the same jobs.
    """
    streams = np.random.default_rng(seed).spawn(9)
    plan = make_plan(spec, streams[0])
    rates = make_rates(spec, plan, streams[1])
    world = World(spec=spec, plan=plan, rates=rates, rng=streams[2])
    changes, truth = plant(world)
    looks, found = make_looks(world, changes, streams[3])
    pieces = _pieces(spec, plan, changes, found, streams[4])
    frames = _lists(spec, plan)
    frames["platen_readings"] = survey_frame(spec, plan, changes.platens, streams[5])
    frames["machine_checks"] = check_frame(spec, plan, streams[5])
    frames["pull_checks"] = pull_frame(spec, plan, streams[8])
    usual = _usual(spec, world, pieces["piece_id"])
    rows = _looks_frame(spec, looks, pieces)
    if spec.blocks:
        rows, written = in_stacks(rows, spec.blocks, streams[7])
        rows = rows.sort_values("inspected_us", kind="stable", ignore_index=True)
        usual = usual.groupby(written.reindex(usual.index).to_numpy(), sort=False).sum()
        usual.index.name = "piece_id"
    frames["inspections"] = _as_kept(spec, rows, streams[6])
    return SimulatedShop(
        name=spec.name, zone=spec.zone, start_us=plan.start_us, end_us=plan.end_us, frames=frames,
        truth=truth, usual=usual, settings={"timezone": spec.zone, "shop_name": spec.name},
    )


def _usual(spec: ShopSpec, world: World, ids: npt.NDArray[np.object_]) -> pd.DataFrame:
    first = [k for k, kind in enumerate(spec.kinds) if kind.look == "prompt"]
    return pd.DataFrame(
        world.rates.usual[first].T, index=pd.Index(ids, name="piece_id"),
        columns=[spec.kinds[k].code for k in first],
    )


def _pieces(
    spec: ShopSpec, plan: Plan, changes: Changes, found: Findings, rng: np.random.Generator
) -> dict[str, npt.NDArray[Any]]:
    """What is the same at every look at a piece, (pieces,) by column."""
    job = np.array(plan.names["job"], dtype=object)[plan.code["job"]]
    ids = [f"{j}-{n:03d}" for j, n in zip(job.tolist(), plan.in_job.tolist(), strict=True)]
    pieces: dict[str, npt.NDArray[Any]] = {"piece_id": np.array(ids, dtype=object)}
    for name in CODED:
        levels = np.array([*plan.names[name], None], dtype=object)
        pieces[name] = levels[plan.code[name]]
    inspector = rng.integers(0, len(spec.inspectors), len(plan.names["job"]))
    pieces["inspector"] = np.array(spec.inspectors, dtype=object)[inspector[plan.code["job"]]]
    pieces |= shown_settings(spec, plan, changes, rng)
    cover = np.array([transfer.cover for transfer in spec.transfers], dtype=object)
    pieces["cover"] = cover[plan.code["transfer"]]
    placed = measured_placement(spec, plan, found, changes.moved, rng)
    return pieces | {str(name): placed[name].to_numpy() for name in placed}


def _looks_frame(
    spec: ShopSpec, looks: Looks, pieces: dict[str, npt.NDArray[Any]]
) -> pd.DataFrame:
    """All looks as rows of inspections, with the instant of inspection as ``inspected_us``."""
    at = looks.piece
    frame = pd.DataFrame({
        "piece_id": pieces["piece_id"][at], "attempt": looks.attempt,
        "inspected_at": local_texts(looks.inspected_us, spec.tz),
        "pressed_at": local_texts(looks.pressed_us, spec.tz), "stage": looks.stage,
        **{name: column[at] for name, column in pieces.items() if name != "piece_id"},
        "defects": looks.defects, "disposition": looks.disposition,
        "inspected_us": looks.inspected_us,
    })
    later = (looks.attempt > 1) | (looks.stage != "final")
    frame.loc[later, ["dx_mm", "dy_mm", "rotation_deg"]] = np.nan
    return frame


def _as_kept(spec: ShopSpec, frame: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """What is left of the looks in this shop's file: some fields empty, some columns not kept."""
    frame = frame.drop(columns="inspected_us")
    for name, share in FORGOTTEN.items():
        frame.loc[rng.random(len(frame)) < share * spec.missing, name] = None
    return frame.drop(columns=list(spec.unrecorded))


def _lists(spec: ShopSpec, plan: Plan) -> dict[str, pd.DataFrame]:
    """Presses, fabrics, transfers, instruments, placements, recipes and jobs."""
    day_0 = local_texts(np.array([plan.start_us]), spec.tz)[0]
    presses = [{
        "press": p.code, "name": p.name, "kind": p.kind,
        "heated_lower": "yes" if p.heated_lower else "no", "platen_width_mm": 400,
        "platen_height_mm": 500, "temperature_tolerance_c": spec.temperature_tolerance_c,
        "uniformity_tolerance_c": spec.uniformity_tolerance_c, "check_every_days": 7,
    } for p in spec.presses]
    fabrics = [{
        "fabric": f.code, "name": f.name, "cotton_pct": f.cotton_pct,
        "polyester_pct": f.polyester_pct, "other_pct": f.other_pct, "surface": f.surface,
        "weight_gsm": f.weight_gsm, "heat_limit_c": f.heat_limit_c,
    } for f in spec.fabrics]
    transfers = [{"transfer": t.code, "name": t.name, "kind": t.kind} for t in spec.transfers]
    places = [{
        "location": place.code, "reference": place.reference,
        "part_measured": place.part_measured, "dx_tolerance_mm": place.dx_tolerance_mm,
        "dy_tolerance_mm": place.dy_tolerance_mm,
        "rotation_tolerance_deg": place.rotation_tolerance_deg,
    } for place in spec.locations]
    return {
        "presses": pd.DataFrame(presses), "fabrics": pd.DataFrame(fabrics),
        "transfers": pd.DataFrame(transfers), "placements": pd.DataFrame(places),
        "instruments": _instruments(spec, plan), "recipes": recipe_frame(spec, day_0),
        "jobs": _jobs(spec, plan),
    }


def _instruments(spec: ShopSpec, plan: Plan) -> pd.DataFrame:
    calibrated = local_texts(np.array([plan.start_us - 60 * DAY_US]), spec.tz)[0]
    due = local_texts(np.array([plan.start_us + 305 * DAY_US]), spec.tz)[0]
    others = (STOPWATCH, GAUGE)
    return pd.DataFrame({
        "instrument": [*INSTRUMENTS, *others],
        "uncertainty_c": [spec.probe_uncertainty_c] * len(INSTRUMENTS) + [None] * len(others),
        "k": [2] * len(INSTRUMENTS) + [None] * len(others),
        "calibrated_at": calibrated, "due_at": due,
    })


def _jobs(spec: ShopSpec, plan: Plan) -> pd.DataFrame:
    first: Ints = np.searchsorted(plan.code["job"], np.arange(len(plan.names["job"])))
    ordered = np.bincount(plan.code["job"])
    columns = {
        name: np.array(plan.names[name], dtype=object)[plan.code[name][first]]
        for name in ("fabric", "transfer", "location")
    }
    return pd.DataFrame({
        "job": plan.names["job"], **columns, "ordered": ordered, "shipped_at": _shipped(spec, plan),
    })


def _shipped(spec: ShopSpec, plan: Plan) -> np.ndarray:
    """A job leaves in the afternoon of the second day after its last piece; None: still here."""
    last = np.zeros(len(plan.names["job"]), dtype=np.int64)
    np.maximum.at(last, plan.code["job"], plan.pressed_us)
    left = last // DAY_US * DAY_US + 2 * DAY_US + SHIPS_AT_US
    texts = local_texts(left, spec.tz).copy()
    texts[left > plan.end_us] = None
    return texts
