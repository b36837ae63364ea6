"""An invented shop with recipes, loaded through files: who set what is known piece by piece.

Press Anvil: dwell by the old recipe from the day the new one counts; its gauge is read in psi.
Brook: its display is right and its platen is 8 degC cold. Cedar: pressure class and cover beside
the recipe. Dune: nothing recorded. Elm: a fabric without a recipe.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

from qc.desk.loading import LoadRequest, load_files
from qc.desk.shop import Shop, change_setting, open_shop
from qc.domain.instants import DAY_US

START_US = 1_767_225_600_000_000  # Thursday 2026-01-01 00:00 UTC
END_US = START_US + 31 * DAY_US
PRESSES = ("Anvil", "Brook", "Cedar", "Dune", "Elm")
RECIPES = """\
fabric,transfer,version,valid_from,temperature_f,temperature_low_f,temperature_high_f,dwell_s,\
dwell_low_s,dwell_high_s,pressure_psi,pressure_low_psi,pressure_high_psi,peel,peel_wait_s
rib,film,1,,302,293,311,15,14,16,40,35,45,cold,60
rib,film,2,2026-01-16,302,293,311,12,11,13,40,35,45,cold,60
"""
CLASSES = """\
fabric,transfer,version,pressure_class,cover
jersey,film,1,medium,matt sheet
"""


def build_shop(folder: Path, place: str | None = None, **settings: str) -> Shop:
    """The shop in a new store, by default a file in ``folder``; ``settings`` are the shop's own."""
    shop = open_shop(place or str(folder / "shop.db"), create=True)
    for name, value in settings.items():
        shop = change_setting(shop, name=name, value=value, by="test", at_us=START_US)
    listed = "\n".join(["press,temperature_tolerance_c", *(f"{press},5" for press in PRESSES)])
    files = (("presses", f"{listed}\n"), ("recipes", RECIPES), ("classes", CLASSES),
             ("surveys", _surveys()))
    for name, text in files:
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    _write_looks(folder / "looks.csv", looks())
    names = (*(name for name, _ in files), "looks")
    load(shop, *(folder / f"{name}.csv" for name in names))
    return shop


def load(shop: Shop, *paths: Path) -> None:
    report = load_files(
        shop, LoadRequest(paths=tuple(map(str, paths)), new_codes=True), by="test", at_us=END_US)
    assert report.exit_code == 0, report


def looks() -> list[dict[str, Any]]:
    """Ten pieces a day and press, as rows of a file."""
    rows = []
    for day in range(1, 31):
        for number, press in enumerate(PRESSES):
            rows.append(_row(day, press) | _set(press, day) | {"piece_id": f"{day:02d}-{number}"})
    return rows


def _row(day: int, press: str) -> dict[str, Any]:
    return {"inspected_at": f"2026-01-{day:02d}T09:30Z", "pressed_at": f"2026-01-{day:02d}T09:00Z",
            "press": press, "fabric": "rib", "transfer": "film", "location": "chest",
            "operator": "Ana" if day % 3 else "Rui", "pieces": 10, "defects": "", "defective": 0}


def _set(press: str, day: int) -> dict[str, Any]:
    good = {"temperature_f": 302, "dwell_s": 15 if day < 16 else 12, "pressure_psi": 40}
    return {
        "Anvil": good | {"dwell_s": 15}, "Brook": good,
        "Cedar": {"fabric": "jersey", "pressure_class": "firm" if day > 24 else "medium",
                  "cover": "parchment" if day > 29 else "Matt sheet"},
        "Dune": {}, "Elm": good | {"fabric": "velvet"},
    }[press]


def _write_looks(path: Path, rows: list[dict[str, Any]]) -> None:
    names = list(dict.fromkeys(name for row in rows for name in row))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, names)
        writer.writeheader()
        writer.writerows(rows)


def _surveys() -> str:
    """Brook is surveyed on days 1, 15 and 29: right at first, then 8 degC cold."""
    head = "survey_id,measured_at,press,platen,setpoint_c,row,col,reading_c\n"
    rows = [
        f"B{day},2026-01-{day:02d}T06:00Z,Brook,upper,150,{row},{col},{150 + offset}"
        for day, offset in ((1, 0.5), (15, -9.5), (29, -9.5))
        for row in (1, 2, 3) for col in (1, 2, 3)
    ]
    return head + "\n".join(rows) + "\n"
