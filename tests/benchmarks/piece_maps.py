"""The finished pieces as a thermometer: how often a cold corner is named before any survey.

    python -m tests.benchmarks.piece_maps [--shops 200] [--ratio 3] [--seed 1]

Random shops in which one corner of an upper platen turns cold: lifted edges of that press come
``--ratio`` times as often, all that is more in that corner. No survey is read. Printed: in how many
the right press and corner are named, and named first, at the moment when so many edges have lifted
since (on that press, or in the whole shop); where a press has two stations, whether the spot is put
down to what they share; and in how many shops without a fault a spot is named at the end.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from demo_data.random_shops import random_spec
from demo_data.shop import SimulatedShop, simulate
from demo_data.truth import Planted
from qc.domain.counting import count_once
from qc.domain.piece_maps import HEAT_KINDS, PieceMap, PieceSpot, place_of
from qc.monitor.piece_maps import piece_maps
from qc.monitor.zone_counts import zone_counts
from qc.stats.comparing.intervals import wilson_interval
from tests.benchmarks.direct import parsed_records, store_like_looks
from tests.benchmarks.measuring import heading, say

ON_THE_PRESS, IN_THE_SHOP = (15, 30, 60, 120), (100, 300)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fate:
    """One shop at one moment: was the corner named, first, and put down to what stations share?"""

    named: bool
    first: bool
    shared: bool | None


def maps_of(looks: pd.DataFrame, findings: pd.DataFrame, as_of_us: int) -> tuple[PieceMap, ...]:
    """The maps from the looks made up to a moment."""
    known = looks[looks["inspected_at"].to_numpy() <= as_of_us]
    counts = zone_counts(count_once(known, findings[findings["look"].isin(known.index)]),
                         HEAT_KINDS)
    return piece_maps(counts, as_of_us=as_of_us, since_us={}, fold=lambda *_: np.eye(9))


def fate_of(maps: tuple[PieceMap, ...], fault: Planted) -> Fate:
    """What the maps say of a planted corner."""
    spots: list[tuple[str, PieceSpot]] = sorted(
        ((one.press, spot) for one in maps for spot in one.spots),
        key=lambda named: named[1].chance)
    right = [named for named in spots
             if named[0] == fault.level and named[1].place == place_of(str(fault.zone))]
    shared = None
    if right and right[0][1].n_stations > 1:
        shared = len(right[0][1].stations) > 1
    return Fate(named=bool(right), first=bool(right) and spots[0] == right[0], shared=shared)


def moment_of(
    looks: pd.DataFrame, findings: pd.DataFrame, fault: Planted, n: int, press: str | None
) -> int | None:
    """When ``n`` edges had lifted since the fault began, on a press or anywhere; None: never."""
    lifted = findings.loc[findings["kind"] == "lifted_edge", "look"]
    at = looks.loc[lifted[lifted.isin(looks.index)]]
    at = at[(at["pressed_at"] >= fault.start_us) & (at["attempt"] == 1)]
    if press is not None:
        at = at[at["press"] == press]
    when = np.sort(at["inspected_at"].to_numpy(dtype=np.int64))
    return int(when[n - 1]) if len(when) >= n else None


def shop_of(seed: int, fault: str, ratio: float) -> SimulatedShop:
    """A random shop, with its fault so strong."""
    spec = random_spec(np.random.default_rng(seed), fault=fault)
    return simulate(replace(spec, faults=tuple(replace(f, ratio=ratio) for f in spec.faults)), seed)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--shops", type=int, default=200)
    parser.add_argument("--ratio", type=float, default=3.0)
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    fates: dict[str, list[Fate]] = {}
    for at in range(wanted.shops):
        shop = shop_of(wanted.seed * 100_000 + at, "cold_corner", wanted.ratio)
        looks, findings = store_like_looks(parsed_records(shop)["inspections"])
        fault = shop.truth[0]
        moments = [(f"{n} on the press", n, fault.level) for n in ON_THE_PRESS]
        moments += [(f"{n} in the shop", n, None) for n in IN_THE_SHOP]
        for name, n, press in moments:
            if (moment := moment_of(looks, findings, fault, n, press)) is not None:
                fates.setdefault(name, []).append(
                    fate_of(maps_of(looks, findings, moment), fault))
    heading(f"Cold corner, {wanted.ratio:g} times the lifted edges, from the pieces alone",
            "tests.benchmarks.piece_maps")
    for name, found in fates.items():
        say(f"{name} lifted since: {_words(found)}")
    false = sum(_false_spots(wanted.seed * 100_000 + 50_000 + at) for at in range(wanted.shops))
    share = wilson_interval(false, wanted.shops)
    say(f"shops without a fault with a spot named: {false} of {wanted.shops} "
        f"({share.low:.1%} to {share.high:.1%})")


def _false_spots(seed: int) -> bool:
    shop = shop_of(seed, "", 1.0)
    looks, findings = store_like_looks(parsed_records(shop)["inspections"])
    return any(one.spots for one in maps_of(looks, findings, shop.end_us))


def _words(found: list[Fate]) -> str:
    n = sum(fate.named for fate in found)
    share = wilson_interval(n, len(found))
    told = [fate.shared for fate in found if fate.shared is not None]
    return (f"{n} of {len(found)} named ({share.low:.0%} to {share.high:.0%}), "
            f"{sum(fate.first for fate in found)} first; "
            f"{sum(told)} of {len(told)} with two stations put down to what they share")


if __name__ == "__main__":
    main()
