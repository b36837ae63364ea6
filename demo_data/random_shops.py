"""Any number of invented shops, each of another make, without a fault or with planted ones."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from demo_data.kinds import KINDS
from demo_data.spec import Fabric, Fault, Kind, LongLot, Press, ShopSpec, Transfer
from demo_data.things import FABRICS, LOCATIONS, PEOPLE, PRESSES, TRANSFERS

LATEST = date(2026, 10, 17)
ZONES_OF_SHOPS = ("Europe/Lisbon", "America/Chicago", "Asia/Kolkata", "Australia/Sydney",
                  "America/Sao_Paulo", "Africa/Johannesburg", "Asia/Tokyo", "Pacific/Auckland")

BREAKS = (
    ((18000.0, 1800.0),),
    ((9000.0, 1500.0), (18000.0, 1800.0), (24900.0, 1500.0), (34200.0, 1500.0)),
    ((12600.0, 2400.0), (24900.0, 1800.0)),
)
"""(after so many seconds of work, seconds long): one long break; a break in each half of a shift
and one between the shifts; breaks at other hours."""

WORKING_HOURS = (0.33, 0.75)
"""Share of a day in which a random fault begins."""

LOT_FAULTS = ("weak_transfer_lot", "bad_garment_lot")

DAYS = (60, 90)
N_PRESSES = (3, 10)
PIECES_OF_PRESS = (35, 56)
"""A day, Sundays too."""

SETTINGS_SHOWN = ("temperature_c", "dwell_s", "pressure_kpa", "pressure_dial")
MEASURED_PER_HOUR = (3, 5, 5, 8)

COMMON = {"short_episode": 0.03, "two_at_once": 0.016, "first_pieces": 0.02,
          "first_pieces_one_press": 0.06, "station_fault": 0.022, "station_zone": 0.022}
USUALLY_COMMON = 0.013
"""A kind of defect that a random fault raises is at least this common, share of pieces: a rare one
could not show a fault of its own."""

RANDOM_FAULTS: dict[str, tuple[Fault, ...]] = {
    "drifting_platen": (Fault(kind="drifting_platen", size=-0.15),),
    "cold_corner": (Fault(kind="cold_corner", zone="top_left", size=-7.5),),
    "weak_transfer_lot": (Fault(kind="weak_transfer_lot"),),
    "operator_misplacement": (
        Fault(kind="operator_misplacement", size=4.0, characteristic="misplacement"),),
    "changed_dwell": (Fault(kind="changed_dwell", size=0.2, characteristic="incomplete_cure"),),
    "bad_garment_lot": (Fault(kind="bad_garment_lot", characteristic="bubble"),),
    "press_fault": (Fault(kind="press_fault"),),
    "short_episode": (Fault(kind="short_episode", characteristic="contamination", until_day=12),),
    "fabric_fault": (Fault(kind="fabric_fault"),),
    "location_fault": (Fault(kind="location_fault", characteristic="rotated"),),
    "operator_fault": (Fault(kind="operator_fault", characteristic="wrinkle"),),
    "size_fault": (Fault(kind="size_fault", characteristic="bubble"),),
    "transfer_fault": (Fault(kind="transfer_fault", characteristic="carrier_residue"),),
    "shop_fault": (Fault(kind="shop_fault", characteristic="press_mark"),),
    "station_fault": (Fault(kind="station_fault", level="two stations"),),
    "one_zone": (Fault(kind="one_zone", zone="bottom_left"),),
    "station_zone": (Fault(kind="station_zone", level="two stations", zone="right"),),
    "creeping_rate": (Fault(kind="creeping_rate", ratio=4.0, size=20.0),),
    "doubling_rate": (Fault(kind="doubling_rate", ratio=8.0, size=8.0),),
    "first_pieces": (
        Fault(kind="first_pieces", characteristic="incomplete_cure"),),
    "first_pieces_one_press": (
        Fault(kind="first_pieces_one_press", characteristic="incomplete_cure", ratio=4.0),),
    "two_at_once": (
        Fault(kind="press_fault"), Fault(kind="fabric_fault", day=5),),
    "two_kinds_at_once": (
        Fault(kind="press_fault", characteristic="press_mark"),
        Fault(kind="operator_misplacement", day=3, size=4.0, characteristic="misplacement"),),
    "lot_and_press_at_once": (
        Fault(kind="weak_transfer_lot"), Fault(kind="press_fault", day=4),),
    "fault_with_mix": (
        Fault(kind="press_mix_change", level="any press", ratio=10.0),
        Fault(kind="mix_change", level="hard fabric", ratio=1.6),
        Fault(kind="press_fault", level="any press"),),
    "cold_setting": (Fault(kind="cold_setting", size=-5.0, characteristic="incomplete_cure"),),
    "light_pressure": (Fault(kind="light_pressure", size=0.25),),
    "dwell_alone": (Fault(kind="dwell_alone", size=0.2, ratio=1.0, characteristic="dwell_s"),),
    "placement_shift": (
        Fault(kind="placement_shift", size=2.0, ratio=1.0, characteristic="dx_mm"),),
    "placement_height": (
        Fault(kind="placement_height", size=-2.0, ratio=1.0, characteristic="dy_mm"),),
    "placement_turn": (
        Fault(kind="placement_turn", size=2.0, ratio=1.0, characteristic="rotation_deg"),),
    "mix_change": (Fault(kind="mix_change", level="hard fabric", ratio=2.0),),
    "press_mix_change": (
        Fault(kind="press_mix_change", level="any press", ratio=10.0),
        Fault(kind="mix_change", level="hard fabric", ratio=1.6),),
}
"""Faults of moderate size by kind. ``day`` counts from the day drawn for the shop, ``until_day``
too; levels in words are filled in for the shop, empty ones by the generator."""

DESCRIPTIONS: dict[str, str] = {
    "drifting_platen": "an upper platen gets colder by 0.15 degC a day; surveys and edges show it",
    "cold_corner": "one corner of an upper platen is cold at once; edges lift there",
    "weak_transfer_lot": "a lot of the most used transfer lifts on every press",
    "operator_misplacement": "one person loads 4 mm to one side; more prints out of place",
    "changed_dwell": "the timer of one press is 20 % short; more weak bonds",
    "bad_garment_lot": "a lot of the most used fabric bubbles on every press",
    "press_fault": "edges lift three times as often on one press",
    "short_episode": "a press soils prints three times as often, for twelve days",
    "fabric_fault": "edges lift more on one fabric, all its lots",
    "location_fault": "prints of one place on the garment are rotated more often",
    "operator_fault": "one person's prints wrinkle more often, at whatever press",
    "size_fault": "garments of one size bubble more often",
    "transfer_fault": "one transfer leaves residue more often, all its lots",
    "shop_fault": "press marks everywhere, three times as often",
    "station_fault": "edges lift more at one station of a two-station press",
    "one_zone": "edges lift more on one press, all in one zone; no survey shows it",
    "station_zone": "edges lift more at one station, all in one zone",
    "creeping_rate": "a press gets worse evenly, to four times the rate in twenty days",
    "doubling_rate": "a press gets twice as bad every eight days, up to eight times",
    "first_pieces": "weak bonds in the first minutes after every pause, on all presses",
    "first_pieces_one_press": "the same on one press",
    "two_at_once": "edges lift more on a press, and from five days later on one fabric too",
    "two_kinds_at_once": "press marks on one press, misplaced prints of one person",
    "lot_and_press_at_once": "edges lift more with one transfer lot and, soon after, on one press",
    "fault_with_mix": "edges lift more on a press that gets more of the hard fabric the same day",
    "cold_setting": "one person sets 5 degC low; more weak bonds",
    "light_pressure": "one press is set to a quarter less pressure; edges lift more",
    "dwell_alone": "a timer is 20 % short, and no defect comes of it yet",
    "placement_shift": "one person loads to one side by two standard deviations",
    "placement_height": "prints of one press sit too high by two standard deviations",
    "placement_turn": "prints of one press are turned by two standard deviations",
    "mix_change": "honest: the shop presses twice as much of the hard fabric",
    "press_mix_change": "honest: one press gets much more of the hard fabric",
}
"""What each is, in a line."""

NEEDS = {"operator_misplacement": "operator", "operator_fault": "operator",
         "cold_setting": "operator", "placement_shift": "operator",
         "weak_transfer_lot": "transfer_lot", "bad_garment_lot": "garment_lot",
         "size_fault": "size", "station_fault": "station", "station_zone": "station"}
"""A column without which nobody could name the cause."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Make:
    """What a random shop is put together from."""

    rng: np.random.Generator
    fault: str
    days: int
    fabrics: tuple[Fabric, ...]
    transfers: tuple[Transfer, ...]
    presses: tuple[Press, ...]

    @property
    def hard(self) -> Fabric:
        return next(f for f in self.fabrics if f.surface == "textured")


def random_spec(
    rng: np.random.Generator, *, fault: str = "", n_pieces: int | None = None,
    days: int | None = None, n_presses: int | None = None, enough: float | None = None,
) -> ShopSpec:
    """A shop of its own: names, size, mix, rates from half to twice the usual ones, clumping,
    breaks, zone, what is recorded and how; without a fault, or with one of `RANDOM_FAULTS`.

    A fault begins between 40 and 55 % of the days and lasts to the end (an episode 12 days). The
    kind of defect it raises is common in that shop, and levels are taken so that the usual rate
    gives at least 15 defects meanwhile where the shop is large enough: see `Planted.usual`. With
    ``enough`` the fault ends as soon as the usual rate would have given that many.
    """
    if days is None:
        days = int(rng.integers(DAYS[0], DAYS[1] + 1))
    if n_presses is None:
        n_presses = int(rng.integers(N_PRESSES[0], N_PRESSES[1] + 1))
    if n_pieces is None:
        n_pieces = int(n_presses * days * rng.uniform(*PIECES_OF_PRESS))
    fabrics, transfers = _fabrics(rng), _transfers(rng)
    make = _Make(rng=rng, fault=fault, days=days, fabrics=fabrics, transfers=transfers,
                 presses=_presses(rng, n_presses, fabrics, fault))
    faults, long_lots = _placed_faults(make, enough)
    people = tuple(str(name) for name in rng.permutation(PEOPLE))
    return ShopSpec(
        name=f"Shop {int(rng.integers(100, 999))}", zone=str(rng.choice(ZONES_OF_SHOPS)),
        until=LATEST - timedelta(days=int(rng.integers(0, 300))), days=days, n_pieces=n_pieces,
        presses=make.presses, fabrics=fabrics, transfers=transfers, locations=LOCATIONS,
        kinds=_kinds(rng, faults, COMMON.get(fault, USUALLY_COMMON)),
        operators=_people(people, n_presses + int(rng.integers(0, 3))), inspectors=people[-2:],
        faults=faults, long_lots=long_lots, first_job=int(rng.integers(1000, 9000)),
        job_cv=float(rng.uniform(0.1, 0.5)), level_sd=float(rng.uniform(0.05, 0.16)),
        lot_sd=float(rng.uniform(0.05, 0.22)), home_share=float(rng.uniform(0.4, 0.8)),
        breaks=BREAKS[int(rng.integers(len(BREAKS)))], blocks=_blocks(rng),
        measured_per_hour=int(rng.choice(MEASURED_PER_HOUR)),
        missing=float(rng.uniform(0.3, 5.0)), unrecorded=_unrecorded(rng, fault),
    )


def _blocks(rng: np.random.Generator) -> float:
    """Two shops in three write every piece down; the others stack some jobs, or all."""
    return float(rng.choice([0.0, 0.0, 0.0, 0.0, rng.uniform(0.2, 0.8), 1.0]))


def _unrecorded(rng: np.random.Generator, fault: str) -> tuple[str, ...]:
    """Columns this shop does not keep: most keep all."""
    needed = {NEEDS.get(one.kind) for one in RANDOM_FAULTS.get(fault, ())}
    columns = ("operator", "transfer_lot", "garment_lot", "size", "station")
    luck = rng.random(len(columns)) < 0.12
    found = [c for c, left_out in zip(columns, luck, strict=True)
             if left_out and c not in needed]
    if rng.random() < 0.1 and fault != "dwell_alone":
        found += SETTINGS_SHOWN
    return tuple(found)


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
    rng: np.random.Generator, n_presses: int, fabrics: tuple[Fabric, ...], fault: str
) -> tuple[Press, ...]:
    codes = [fabric.code for fabric in fabrics]
    wanted = any(one.level == "two stations" for one in RANDOM_FAULTS.get(fault, ()))
    return tuple(
        Press(code=f"P{n + 1}", name=f"Press {n + 1}", heated_lower=bool(rng.random() < 0.3),
              kind=PRESSES[n % len(PRESSES)].kind,
              stations=("A", "B") if rng.random() < 0.3 or (wanted and n == 0) else ("A",),
              pressure="dial" if rng.random() < 0.3 else "kpa",
              prefers=(str(rng.choice(codes)), str(rng.choice(codes))),
              pace=1.6 if rng.random() < 0.15 else 1.0)
        for n in range(n_presses)
    )


def _kinds(
    rng: np.random.Generator, faults: tuple[Fault, ...], common: float
) -> tuple[Kind, ...]:
    """The kinds at rates of this shop's own, from half to twice the usual ones."""
    raised = {fault.characteristic for fault in faults}
    level = float(np.exp(rng.uniform(np.log(0.5), np.log(2.0))))
    luck = rng.lognormal(0, 0.2, len(KINDS))
    return tuple(
        replace(kind, rate=max(kind.rate * luck[n] * level, common * (kind.code in raised)))
        for n, kind in enumerate(KINDS)
    )


def _placed_faults(
    make: _Make, enough: float | None
) -> tuple[tuple[Fault, ...], tuple[LongLot, ...]]:
    """The kind's faults on a day of this shop, and the large deliveries they need."""
    if not make.fault:
        return (), ()
    first = float(np.floor(make.rng.uniform(0.40, 0.55) * make.days))
    hour = float(make.rng.uniform(*WORKING_HOURS))
    press = str(make.rng.choice([press.code for press in make.presses]))
    faults, lots = [], []
    for template in RANDOM_FAULTS[make.fault]:
        # a lot comes with the morning; everything else happens while people work
        at_hour = 0.0 if template.kind in LOT_FAULTS else hour
        fault = replace(template, day=first + template.day + at_hour, enough=enough)
        if fault.until_day is not None:
            fault = replace(fault, until_day=fault.day + fault.until_day)
        fault, more = _with_level(make, fault, press)
        faults.append(fault)
        lots += more
    return tuple(faults), tuple(lots)


def _with_level(make: _Make, fault: Fault, press: str) -> tuple[Fault, list[LongLot]]:
    """Levels in words filled in; a bad lot is a large delivery of what is used most."""
    if fault.level == "any press":
        return replace(fault, level=press, of=make.hard.code), []
    if fault.level == "hard fabric":
        return replace(fault, level=make.hard.code), []
    if fault.level == "two stations":
        return replace(fault, level=""), []
    if fault.kind == "weak_transfer_lot":
        code, length = max(make.transfers, key=lambda t: t.share).code, make.days / 2.5
    elif fault.kind == "bad_garment_lot":
        code, length = max(make.fabrics, key=lambda f: f.share).code, make.days - fault.day
    else:
        return fault, []
    return replace(fault, level=code), [
        LongLot(of=code, day=fault.day, days=float(np.floor(length)))]
