"""Which pieces got which defect, in which zone, and how a shop writes that down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from demo_data.plan import Floats, Ints
from demo_data.spec import Kind
from demo_data.world import Changes, World
from qc.domain.kinds import ZONES

HIGHEST_RATE = 0.7
ZONE_UNSAID = 0.08
EXTENT_SAID = 0.6
TWO_PLACES = 0.06


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Findings:
    """One entry for each defect of a piece: its kind (position) and its text."""

    piece: Ints
    kind: Ints
    text: npt.NDArray[np.object_]

    def texts(self, n: int) -> npt.NDArray[np.object_]:
        """What the column ``defects`` says of each of n pieces; None where nothing."""
        said: npt.NDArray[np.object_] = np.full(n, None, dtype=object)
        for piece, text in zip(self.piece.tolist(), self.text.tolist(), strict=True):
            said[piece] = text if said[piece] is None else f"{said[piece]};{text}"
        return said


def all_findings(world: World, changes: Changes, rng: np.random.Generator) -> Findings:
    """What the first looks found."""
    return _findings(world, changes, "prompt", np.arange(world.plan.n), rng)


def late_findings(
    world: World, changes: Changes, stage: str, at: Ints, rng: np.random.Generator
) -> Findings:
    """What later looks at the pieces ``at`` found; plan positions as in `all_findings`."""
    return _findings(world, changes, stage, at, rng)


def _findings(
    world: World, changes: Changes, look: str, at: Ints, rng: np.random.Generator
) -> Findings:
    piece, kind_of, text = [], [], []
    for k, kind in enumerate(world.spec.kinds):
        if kind.look != look:
            continue
        plain = (world.rates.honest[k] * changes.multiplier[k])[at]
        extra = {
            zone: (world.rates.honest[k] * changes.multiplier[k] * more)[at]
            for kind_at, zone, more in changes.zoned if kind_at == k
        }
        total = plain + sum(extra.values(), np.zeros(len(at)))
        hit = np.flatnonzero(rng.random(len(at)) < np.minimum(total, HIGHEST_RATE))
        piece.append(at[hit])
        kind_of.append(np.full(len(hit), k))
        weight = {zone: rate[hit] / total[hit] for zone, rate in extra.items()}
        text.append(_texts(kind, len(hit), weight, rng))
    return Findings(
        piece=np.concatenate(piece) if piece else np.zeros(0, dtype=np.int64),
        kind=np.concatenate(kind_of) if piece else np.zeros(0, dtype=np.int64),
        text=np.concatenate(text) if piece else np.zeros(0, dtype=object),
    )


def _texts(
    kind: Kind, n: int, extra: dict[int, Floats], rng: np.random.Generator
) -> npt.NDArray[np.object_]:
    """``kind@zone:extent*count`` as in the files; ``extra``: share owed to a fault in a zone."""
    zone = _zones(kind, n, extra, rng)
    low, high = kind.extent_mm or (0.0, 0.0)
    extent = np.round(rng.uniform(low, high, n))
    said = (rng.random(n) < EXTENT_SAID) & (kind.extent_mm is not None) & (zone >= 0)
    places = np.where((rng.random(n) < TWO_PLACES) & (kind.zones != ()), 2, 1)
    texts = [
        kind.code + (f"@{ZONES[z]}" if z >= 0 else "") + (f":{e:g}" if s else "")
        + ("*2" if p == 2 else "")
        for z, e, s, p in zip(zone.tolist(), extent.tolist(), said.tolist(), places.tolist(),
                              strict=True)
    ]
    return np.array(texts, dtype=object)


def _zones(kind: Kind, n: int, extra: dict[int, Floats], rng: np.random.Generator) -> Ints:
    """Zone of each defect; -1 where the kind has none or nobody wrote it down."""
    luck, unsaid = rng.random(n), rng.random(n) < ZONE_UNSAID
    if not kind.zones:
        return np.full(n, -1)
    zone = rng.choice(len(ZONES), n, p=np.array(kind.zones) / sum(kind.zones))
    below = np.zeros(n)
    for at, share in extra.items():
        zone = np.where((luck >= below) & (luck < below + share), at, zone)
        below += share
    return np.where(unsaid, -1, zone)
