"""What the Floor and the Bench say of the first pieces: too few to be above what is usual."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from dashboard import text
from dashboard.pages.bench.messages import standing_message
from dashboard.pages.floor.layout import gauge
from qc.desk.bench import JobStanding
from qc.desk.floor import ShareNow
from qc.desk.shares import share_of
from qc.desk.shop import open_shop


def counted(bad: int, n: int) -> dict[str, Any]:
    share = share_of(bad, n)
    assert share is not None
    return {"n_pieces": n, "n_defective": bad, "share": share.share, "low": share.low,
            "high": share.high, "usual": 0.051}


@pytest.mark.parametrize(("bad", "n", "above"), [(1, 2, False), (1, 1, False), (4, 10, True)])
def test_one_faulty_piece_of_two_is_luck_and_four_of_ten_are_not(
    tmp_path: Path, bad: int, n: int, above: bool
) -> None:
    """By the binomial law 1 of 2 or more come at a usual 5.1 % in 10 of 100 shifts, 4 of 10 in 1 of
    1000."""
    shop = open_shop(str(tmp_path / "shop.db"), create=True)
    standing = JobStanding(n_usual=500, kinds={}, again=(), **counted(bad, n))
    said = standing_message(standing, None, shop, job="J1", now_us=0)
    assert said["above"] is above
    now = ShareNow(since_us=0, **counted(bad, n))
    shown = json.dumps(gauge(text.SHIFT, now, 0.8, "P1").to_plotly_json(),
                       default=lambda part: part.to_plotly_json())
    assert (text.FLOOR_ABOVE in shown) is above
    assert (text.FLOOR_TOO_FEW in shown) is not above
    shop.store.close()
