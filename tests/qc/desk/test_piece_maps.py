"""What the finished pieces say, from a store."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from qc.desk.loading import LoadRequest, load_files
from qc.desk.piece_maps import of_press, piece_maps
from qc.desk.shop import Shop, open_shop
from qc.errors import NotFound

NOW = int(pd.Timestamp("2025-06-01T12:00Z").timestamp() * 1e6)
ZONES = ("top_left", "top", "top_right", "left", "centre", "right", "bottom_left", "bottom",
         "bottom_right")


def pieces(corner: str, times: float) -> pd.DataFrame:
    """Forty days on three presses; edges lift more in one corner of P2's prints."""
    rng = np.random.default_rng(5)
    n = 6000
    press = rng.choice(["P1", "P2", "P3"], n)
    day = np.sort(rng.integers(0, 40, n))
    at = pd.Timestamp("2025-04-22T08:00Z") + pd.to_timedelta(day, unit="D")
    chance = np.full((n, 9), 0.004)
    chance[press == "P2", ZONES.index(corner)] *= times
    hit = rng.random((n, 9)) < chance
    said = [";".join(f"lifted_edge@{ZONES[z]}" for z in np.flatnonzero(row)) for row in hit]
    return pd.DataFrame({
        "piece_id": [f"B{i}" for i in range(n)], "inspected_at": at.strftime("%Y-%m-%dT%H:%MZ"),
        "press": press, "station": rng.choice(["A", "B"], n), "fabric": "fleece",
        "transfer": "film", "location": "full_front", "job": [f"J{d}" for d in day],
        "defects": said,
    })


def survey(cold: tuple[int, int], day: str, state: str = "routine") -> pd.DataFrame:
    rows = [(r, c) for r in (1, 2, 3) for c in (1, 2, 3)]
    return pd.DataFrame({
        "survey_id": f"S-{day}-{state}", "measured_at": f"{day}T06:00Z", "press": "P2",
        "platen": "upper", "setpoint_c": 160, "row": [r for r, _ in rows],
        "col": [c for _, c in rows], "state": state,
        "reading_c": [153 if at == cold else 160 for at in rows],
    })


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = open_shop(str(tmp_path / "shop.db"), create=True)
    yield made
    made.store.close()


def load(shop: Shop, tmp_path: Path, **frames: pd.DataFrame) -> None:
    paths = []
    for name, frame in frames.items():
        path = tmp_path / f"{name}.csv"
        frame.to_csv(path, index=False)
        paths.append(str(path))
    report = load_files(shop, LoadRequest(paths=tuple(paths), new_codes=True), by="ann", at_us=NOW)
    assert report.exit_code == 0


def words(shop: Shop) -> str:
    (said,) = of_press(piece_maps(shop, as_of_us=NOW), "P2").words
    return said


def test_the_corner_is_named_and_the_survey_asked(shop: Shop, tmp_path: Path) -> None:
    load(shop, tmp_path, looks=pieces("bottom_left", 6))
    found = piece_maps(shop, as_of_us=NOW)
    assert [one.map.press for one in found] == ["P1", "P2", "P3"]
    assert [len(one.words) for one in found] == [0, 1, 0]
    said = words(shop)
    assert said.startswith("near left of the platen: ")
    assert "at every station" in said
    assert said.endswith("No survey was made since: survey that place before the next job.")


def test_a_survey_that_agrees_says_so(shop: Shop, tmp_path: Path) -> None:
    load(shop, tmp_path, looks=pieces("bottom_left", 6), survey=survey((3, 1), "2025-05-28"))
    assert words(shop).endswith(
        "The survey of 28 May has the coldest point of the upper platen there too.")


def test_a_survey_that_does_not_points_at_pressure(shop: Shop, tmp_path: Path) -> None:
    load(shop, tmp_path, looks=pieces("bottom_left", 6), survey=survey((1, 3), "2025-05-28"))
    assert "pull paper at the four corners" in words(shop)


def test_an_adjustment_begins_anew(shop: Shop, tmp_path: Path) -> None:
    load(shop, tmp_path, looks=pieces("bottom_left", 6),
         survey=survey((2, 2), "2025-05-31", "as_left"))
    found = of_press(piece_maps(shop, as_of_us=NOW), "P2")
    assert found.words == ()
    assert found.map.n_pieces < 200


def test_where_a_print_lies_is_taken_from_the_lists(shop: Shop, tmp_path: Path) -> None:
    """A small print in the middle of a large platen says nothing of the platen's corner."""
    places = pd.DataFrame({"location": ["full_front"], "print_width_mm": [80],
                           "print_height_mm": [80]})
    presses = pd.DataFrame({"press": ["P1", "P2", "P3"], "platen_width_mm": 400,
                            "platen_height_mm": 500})
    load(shop, tmp_path, presses=presses, places=places)
    load(shop, tmp_path, looks=pieces("bottom_left", 6))
    found = of_press(piece_maps(shop, as_of_us=NOW), "P2")
    assert found.words == ()
    assert found.map.seen[1, 1] == found.map.seen.sum() > 50


def test_a_press_without_work_is_not_there(shop: Shop) -> None:
    assert piece_maps(shop, as_of_us=NOW) == ()
    with pytest.raises(NotFound, match="P9"):
        of_press((), "P9")
