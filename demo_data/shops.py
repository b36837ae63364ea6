"""The invented shops: the demo, a second one, and any number of random ones."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from demo_data.kinds import KINDS
from demo_data.spec import Fabric, Fault, Kind, LongLot, Press, Service, ShopSpec, Transfer
from demo_data.things import FABRICS, LOCATIONS, PEOPLE, PRESSES, TRANSFERS

DEMO_SEED = 5
"""The first seed by which every fault is of moderate size (at least 15 usual defects of its kind)
and shows within 20 % of its planted factor. Chosen from the data, without looking at flags."""

DEMO_UNTIL = date(2026, 11, 20)
SECOND_SEED = 4
"""Chosen by the same rule, the short episode aside."""

COMMON = 0.011
"""A kind of defect that a random fault raises is at least this common, share of pieces."""



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


RANDOM_FAULTS: dict[str, Fault] = {
    "drifting_platen": Fault(kind="drifting_platen", size=-0.15),
    "cold_corner": Fault(kind="cold_corner", zone="top_left", size=-7.5),
    "weak_transfer_lot": Fault(kind="weak_transfer_lot"),
    "operator_misplacement": Fault(kind="operator_misplacement", size=4.0,
                                   characteristic="misplacement"),
    "changed_dwell": Fault(kind="changed_dwell", size=0.2, characteristic="incomplete_cure"),
    "bad_garment_lot": Fault(kind="bad_garment_lot", characteristic="bubble"),
    "press_fault": Fault(kind="press_fault", characteristic="lifted_edge"),
    "short_episode": Fault(kind="short_episode", characteristic="contamination", ratio=6.0),
    "fabric_fault": Fault(kind="fabric_fault", characteristic="lifted_edge"),
    "location_fault": Fault(kind="location_fault", characteristic="rotated"),
    "mix_change": Fault(kind="mix_change", ratio=2.0),
}
"""A fault of moderate size of each kind; day and level are filled in for a random shop."""


def random_spec(
    rng: np.random.Generator, *, fault: str = "", n_pieces: int = 20_000, days: int = 75,
    n_presses: int = 6, enough: float | None = None,
) -> ShopSpec:
    """A shop of its own: names, mix, rates; without a fault, or with one of `RANDOM_FAULTS`.

    A fault begins between 40 and 55 % of the days and lasts to the end (an episode 12 days, with
    a higher factor). The kind of defect it raises is common in that shop, and levels are taken so
    that the usual rate gives at least 15 defects meanwhile where the shop is large enough: see
    `Planted.usual`. With ``enough`` the fault ends as soon as the usual rate would have given
    that many.
    """
    fabrics, transfers = _fabrics(rng), _transfers(rng)
    planted, long_lots = _random_fault(rng, fault, days, fabrics, transfers)
    people = tuple(str(name) for name in rng.permutation(PEOPLE))
    n_people = n_presses + int(rng.integers(0, 3))
    planted = tuple(replace(one, enough=enough) for one in planted)
    return ShopSpec(
        name=f"Shop {int(rng.integers(100, 999))}", zone="Europe/Lisbon",
        until=date(2026, 10, 17), days=days, n_pieces=n_pieces,
        presses=_presses(rng, n_presses, fabrics), fabrics=fabrics, transfers=transfers,
        locations=LOCATIONS, kinds=_kinds(rng, fault), operators=_people(people, n_people),
        inspectors=people[-2:], faults=planted, long_lots=long_lots,
        first_job=int(rng.integers(1000, 9000)),
    )


def _people(names: tuple[str, ...], wanted: int) -> tuple[str, ...]:
    """More people than names get a number."""
    return tuple(
        name if n < len(names) else f"{name}-{n // len(names) + 1}"
        for n, name in ((n, names[n % len(names)]) for n in range(wanted))
    )


def _fabrics(rng: np.random.Generator) -> tuple[Fabric, ...]:
    luck = rng.lognormal(0, 0.3, len(FABRICS))
    return tuple(replace(f, code=f"{f.code}{n}", share=f.share * luck[n])
                 for n, f in enumerate(FABRICS))


def _transfers(rng: np.random.Generator) -> tuple[Transfer, ...]:
    luck = rng.lognormal(0, 0.3, len(TRANSFERS))
    return tuple(replace(t, code=f"{t.code}{n}", share=t.share * luck[n])
                 for n, t in enumerate(TRANSFERS))


def _presses(
    rng: np.random.Generator, n_presses: int, fabrics: tuple[Fabric, ...]
) -> tuple[Press, ...]:
    codes = [fabric.code for fabric in fabrics]
    return tuple(
        Press(code=f"P{n + 1}", name=f"Press {n + 1}", heated_lower=bool(rng.random() < 0.3),
              stations=("A", "B") if rng.random() < 0.3 else ("A",),
              pressure="dial" if rng.random() < 0.3 else "kpa",
              prefers=(str(rng.choice(codes)), str(rng.choice(codes))))
        for n in range(n_presses)
    )


def _kinds(rng: np.random.Generator, fault: str) -> tuple[Kind, ...]:
    """The kinds at rates of this shop's own; a rare kind could not show a fault of its own."""
    raised = RANDOM_FAULTS[fault].characteristic if fault else ""
    luck = rng.lognormal(0, 0.2, len(KINDS))
    return tuple(
        replace(kind, rate=max(kind.rate * luck[n], COMMON * (kind.code == raised)))
        for n, kind in enumerate(KINDS)
    )


def _random_fault(
    rng: np.random.Generator, kind: str, days: int, fabrics: tuple[Fabric, ...],
    transfers: tuple[Transfer, ...],
) -> tuple[tuple[Fault, ...], tuple[LongLot, ...]]:
    if not kind:
        return (), ()
    day = float(np.floor(rng.uniform(0.40, 0.55) * days))
    fault = replace(RANDOM_FAULTS[kind], day=day)
    if kind == "short_episode":
        return (replace(fault, until_day=day + 12),), ()
    if kind == "mix_change":
        hard = next(f for f in fabrics if f.surface == "textured")
        return (replace(fault, level=hard.code),), ()
    if kind not in ("weak_transfer_lot", "bad_garment_lot"):
        return (fault,), ()
    if kind == "weak_transfer_lot":
        code, length = max(transfers, key=lambda t: t.share).code, float(np.floor(days / 2.5))
    else:
        code, length = max(fabrics, key=lambda f: f.share).code, float(days - day)
    return (replace(fault, level=code),), (LongLot(of=code, day=day, days=length),)
