"""Where the prints sit: what the quality lead measures on some pieces."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt
import pandas as pd

from demo_data.findings import Findings
from demo_data.plan import Floats, Plan
from demo_data.spec import ShopSpec
from qc.domain.instants import HOUR_US

DX_MM, DY_MM, TURN_DEG = (0.7, 1.5), (0.8, 1.7), 0.45
"""Invented: standard deviations, mm from job to job and from piece to piece; degrees."""

PLACEMENT_SD = {
    "dx_mm": float(np.hypot(*DX_MM)), "dy_mm": float(np.hypot(*DY_MM)), "rotation_deg": TURN_DEG,
}
"""Standard deviation of a piece about the specified place."""


def measured_placement(
    spec: ShopSpec, plan: Plan, found: Findings, moved: Mapping[str, Floats],
    rng: np.random.Generator,
) -> pd.DataFrame:
    """dx, dy and rotation of the pieces the lead measured, (pieces,), nan elsewhere.

    Some in an hour at each press. A piece called misplaced or rotated measures so.
    """
    dx_shift_mm = moved["dx_mm"]
    dx = _by_job(plan, rng, DX_MM[0]) + rng.normal(0, DX_MM[1], plan.n) + dx_shift_mm
    dy = _by_job(plan, rng, DY_MM[0]) + rng.normal(0, DY_MM[1], plan.n) + moved["dy_mm"]
    turn = rng.normal(0, TURN_DEG, plan.n) + moved["rotation_deg"]
    codes = [kind.code for kind in spec.kinds]
    off = found.piece[found.kind == codes.index("misplacement")]
    sideways = rng.random(len(off)) < 0.5
    beyond = rng.uniform(6.5, 11.0, len(off)) * rng.choice([-1, 1], len(off))
    beyond = np.where(dx_shift_mm[off] != 0, np.abs(beyond) * np.sign(dx_shift_mm[off]), beyond)
    sideways |= dx_shift_mm[off] != 0
    dx[off] = np.where(sideways, beyond, dx[off])
    dy[off] = np.where(sideways, dy[off], beyond)
    crooked = found.piece[found.kind == codes.index("rotated")]
    turn[crooked] = rng.uniform(2.2, 4.5, len(crooked)) * rng.choice([-1, 1], len(crooked))
    frame = pd.DataFrame({
        "dx_mm": np.round(dx, 1), "dy_mm": np.round(dy, 1), "rotation_deg": np.round(turn, 1),
    })
    frame[~_sampled(plan, spec.measured_per_hour, rng)] = np.nan
    return frame


def _sampled(plan: Plan, per_hour: int, rng: np.random.Generator) -> npt.NDArray[np.bool_]:
    group = plan.code["press"] * 10_000_000 + plan.pressed_us // HOUR_US
    order = np.lexsort((rng.random(plan.n), group))
    new = np.r_[True, np.diff(group[order]) != 0]
    begin = np.maximum.accumulate(np.where(new, np.arange(plan.n), 0))
    chosen = np.zeros(plan.n, dtype=bool)
    chosen[order] = np.arange(plan.n) - begin < per_hour
    return chosen


def _by_job(plan: Plan, rng: np.random.Generator, sd: float) -> Floats:
    return rng.normal(0, sd, len(plan.names["job"]))[plan.code["job"]]
