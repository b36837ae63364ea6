"""The two invented shops that stay as they are: the demo and a second one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from demo_data.kinds import KINDS
from demo_data.spec import Fault, LongLot, Service, ShopSpec
from demo_data.things import FABRICS, LOCATIONS, PEOPLE, PRESSES, TRANSFERS

DEMO_SEED = 5
"""The first seed by which every fault is of moderate size (at least 15 usual defects of its kind)
and shows within 20 % of its planted factor. Chosen from the data, without looking at flags."""

DEMO_UNTIL = date(2026, 11, 20)
SECOND_SEED = 4
"""Chosen by the same rule, the short episode aside."""


def demo_spec(until: date = DEMO_UNTIL) -> ShopSpec:
    """The demo shop: seven presses, ninety days to ``until``, five faults and an honest change."""
    return ShopSpec(
        name="Quillmere Press House", zone="Europe/Lisbon", until=until, days=90,
        n_pieces=30_000, presses=PRESSES, fabrics=FABRICS, transfers=TRANSFERS,
        locations=LOCATIONS, kinds=KINDS, operators=PEOPLE[:8], inspectors=("Juno", "Kai"),
        faults=(
            Fault(kind="drifting_platen", level="P3", day=44, size=-0.15),
            Fault(kind="cold_corner", level="P6", day=28, zone="bottom_right", size=-7.5),
            Fault(kind="weak_transfer_lot", level="CUT", day=32),
            Fault(kind="operator_misplacement", level="Dena", day=37, ratio=4.0, size=4.5,
                  characteristic="misplacement"),
            Fault(kind="changed_dwell", level="P2", day=50, size=0.2,
                  characteristic="incomplete_cure"),
            Fault(kind="mix_change", level="FLEECE-C", day=60, ratio=2.0),
        ),
        long_lots=(LongLot(of="CUT", day=32, days=17),),
        services=(Service(press="P5", day=52, offset_c=-2.8),),
    )


def second_spec() -> ShopSpec:
    """Another shop: five presses, other names, rates and faults, counted in another zone."""
    fabrics = tuple(
        replace(fabric, code=code, share=share) for fabric, code, share in zip(
            FABRICS, ("loop-heavy", "hood-mid", "tee-ring", "tee-mix", "sport-fine", "rib-snug"),
            (0.10, 0.30, 0.28, 0.14, 0.10, 0.08), strict=True)
    )
    names = ("Anvil", "Brook", "Cedar", "Dune", "Elm")
    presses = tuple(
        replace(press, code=name, prefers=()) for press, name in zip(PRESSES, names, strict=False)
    )
    kinds = tuple(replace(kind, rate=kind.rate * 1.1) for kind in KINDS)
    return ShopSpec(
        name="Ferrowby Transfer Works", zone="America/Chicago", until=date(2026, 10, 31), days=75,
        n_pieces=27_000, presses=presses, fabrics=fabrics, transfers=TRANSFERS,
        locations=LOCATIONS, kinds=kinds, operators=PEOPLE[9:16], inspectors=("Arlo", "Bea"),
        first_job=4201,
        faults=(
            Fault(kind="bad_garment_lot", level="hood-mid", day=26, characteristic="contamination"),
            Fault(kind="press_fault", level="Cedar", day=32, characteristic="press_mark"),
            Fault(kind="short_episode", level="Anvil", day=54, until_day=66, ratio=7.0,
                  characteristic="bubble"),
            Fault(kind="operator_misplacement", level="Nora", day=36, ratio=4.0, size=-4.0,
                  characteristic="misplacement"),
            Fault(kind="mix_change", level="loop-heavy", day=45, ratio=2.0),
        ),
        long_lots=(LongLot(of="hood-mid", day=26, days=29),),
    )
