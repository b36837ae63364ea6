"""Where the zones of a print lie on the platen."""

from __future__ import annotations

import numpy as np
import pytest

from qc.domain.kinds import ZONES
from qc.presses.folding import PrintPlace, folded_zones

PLATEN = (400.0, 500.0)


def zone(matrix: np.ndarray, name: str) -> dict[str, float]:
    row = matrix[ZONES.index(name)]
    return {ZONES[i]: round(float(share), 6) for i, share in enumerate(row) if share > 0}


def test_an_unknown_print_or_platen_is_taken_to_fill_it() -> None:
    print_ = PrintPlace(width=100, height=100)
    for matrix in (folded_zones(None, PLATEN), folded_zones(print_, None)):
        np.testing.assert_array_equal(matrix, np.eye(9))


def test_a_print_as_large_as_the_platen_lies_zone_on_cell() -> None:
    matrix = folded_zones(PrintPlace(width=400, height=500), PLATEN)
    np.testing.assert_allclose(matrix, np.eye(9), atol=1e-12)


def test_a_small_print_in_the_middle_says_nothing_of_the_corners() -> None:
    matrix = folded_zones(PrintPlace(width=90, height=90), PLATEN)
    assert all(zone(matrix, name) == {"centre": 1.0} for name in ZONES)


def test_a_small_print_pressed_in_a_corner_tells_of_that_corner() -> None:
    matrix = folded_zones(PrintPlace(width=90, height=90, right=-150, near=-200), PLATEN)
    assert all(zone(matrix, name) == {"top_left": 1.0} for name in ZONES)


def test_a_zone_over_two_cells_is_shared_by_area() -> None:
    # thirds of 300 mm end at 50 mm from the middle, thirds of the platen at 66.7: a zone of the
    # left third reaches from 150 to 50 mm, of which 16.7 lie over the middle cells
    matrix = folded_zones(PrintPlace(width=300, height=500), PLATEN)
    assert zone(matrix, "left") == {"left": pytest.approx(0.833333), "centre": pytest.approx(
        0.166667)}


def test_every_zone_lies_somewhere_even_beyond_the_edge() -> None:
    rng = np.random.default_rng(3)
    for _ in range(50):
        size, place = rng.uniform(10, 900, 2), rng.uniform(-400, 400, 2)
        matrix = folded_zones(PrintPlace(
            width=size[0], height=size[1], right=place[0], near=place[1]), PLATEN)
        np.testing.assert_allclose(matrix.sum(axis=1), 1.0)
        assert (matrix >= 0).all()


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        folded_zones(PrintPlace(width=0, height=10), PLATEN)
