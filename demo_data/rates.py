"""How often each kind of defect comes: usual rates, honest differences, luck of the job."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from demo_data.plan import Ints, Plan
from demo_data.spec import Kind, ShopSpec

Floats = npt.NDArray[np.float64]

PAIRING_SD = 0.2
LEAST_CV = 1e-4
HONEST_FACTORS = ("press", "operator", "transfer_lot", "garment_lot")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rates:
    """Rates per piece at a look, (kinds, pieces): ``usual`` from fabric, transfer and place alone,
    ``honest`` with the small differences between levels and the luck of each job."""

    usual: Floats
    honest: Floats


def make_rates(spec: ShopSpec, plan: Plan, rng: np.random.Generator) -> Rates:
    """The rates of all kinds of the shop at all pieces."""
    usual = _cell_rates(spec, rng)[:, *_cells(plan)]
    variation = np.ones_like(usual)
    for factor in HONEST_FACTORS:
        n_levels = len(plan.names[factor])
        sd = _spread(spec, factor)
        level = rng.lognormal(-(sd**2) / 2, sd, (len(spec.kinds), n_levels))
        variation *= np.append(level, np.ones((len(spec.kinds), 1)), axis=1)[:, plan.code[factor]]
    shape = 1.0 / max(spec.job_cv, LEAST_CV) ** 2
    luck = rng.gamma(shape, 1.0 / shape, (len(spec.kinds), len(plan.names["job"])))
    variation *= luck[:, plan.code["job"]]
    return Rates(usual=usual, honest=usual * variation)


def _spread(spec: ShopSpec, factor: str) -> float:
    """Standard deviation of the log rate between levels of a factor."""
    own = spec.lot_sd if factor.endswith("_lot") else None
    return spec.level_sd if own is None else own


def _cells(plan: Plan) -> tuple[Ints, Ints, Ints]:
    return plan.code["fabric"], plan.code["transfer"], plan.code["location"]


def _cell_rates(spec: ShopSpec, rng: np.random.Generator) -> Floats:
    """(kinds, fabrics, transfers, locations)"""
    pairs = (len(spec.kinds), len(spec.fabrics), len(spec.transfers))
    pairing = rng.lognormal(-(PAIRING_SD**2) / 2, PAIRING_SD, pairs)
    return np.stack([
        kind.rate * np.einsum(
            "f,t,l->ftl", *(
                np.array([_effect(kind, thing.traits) for thing in things])
                for things in (spec.fabrics, spec.transfers, spec.locations)
            )
        ) * pairing[k][:, :, None]
        for k, kind in enumerate(spec.kinds)
    ])


def _effect(kind: Kind, traits: frozenset[str]) -> float:
    return float(np.prod([kind.effects.get(trait, 1.0) for trait in sorted(traits)]))
