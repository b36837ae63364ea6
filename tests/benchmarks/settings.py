"""Settings against recipe of all pieces of a store, beside the mere reading of the same looks.

Ours reads, counts each piece once, finds the recipe and the survey of each and sums up by press
and quantity. The plain way reads the same columns and stops there. Wanted: at most 1.6 times as
long.
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import replace
from pathlib import Path

from demo_data import DEMO_SEED, demo_spec, simulate
from demo_data.building import build_store
from qc.desk.recipes import COLUMNS, settings_against_recipe
from qc.desk.shop import open_shop
from qc.store.inspections import read_looks
from tests.benchmarks.measuring import heading, say, side_by_side, verdict

WANTED = 1.6


def measure(n_pieces: int, n_turns: int) -> float:
    """Our time over that of reading alone."""
    simulated = simulate(replace(demo_spec(), n_pieces=n_pieces), DEMO_SEED)
    since_us, as_of_us = simulated.start_us, simulated.end_us
    with tempfile.TemporaryDirectory() as made:
        place = Path(made) / "shop.db"
        build_store(simulated, place, by="benchmark")
        shop = open_shop(str(place))
        figures = side_by_side(
            lambda: settings_against_recipe(shop, as_of_us=as_of_us, since_us=since_us),
            lambda: read_looks(shop.store, as_of_us=as_of_us, since_us=since_us, columns=COLUMNS),
            n_turns=n_turns,
        )
        found = settings_against_recipe(shop, as_of_us=as_of_us, since_us=since_us)
        shop.store.close()
    say(f"  {found.n_pieces:,} pieces, {found.n_recipes} recipes; ours {figures.ours_s:.2f} s, "
        f"reading alone {figures.plain_s:.2f} s, {n_turns} turns")
    return figures.ratio


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pieces", type=int, default=200_000)
    parser.add_argument("--turns", type=int, default=5)
    wanted = parser.parse_args()
    heading("Settings against recipe beside reading the looks", "tests.benchmarks.settings")
    ratio = measure(wanted.pieces, wanted.turns)
    return 0 if verdict("times reading alone", ratio, at_most=WANTED) else 1


if __name__ == "__main__":
    raise SystemExit(main())
