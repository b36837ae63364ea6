"""What waiting costs, from a store."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from qc.desk.delay_cost import delay_costs, delay_words
from qc.desk.loading import LoadRequest, load_files
from qc.desk.presses import press_health
from qc.desk.shop import Shop, change_setting, open_shop

DAYS, A_DAY, PER_DEGREE = 60, 40, 0.5
END = pd.Timestamp("2025-06-01T18:00Z")
NOW = int(END.timestamp() * 1e6)


def looks(per_degree: float) -> pd.DataFrame:
    """Sixty days on two presses; P1 drifts to -6 degC from day 20 on, and edges lift with it."""
    rng = np.random.default_rng(8)
    n = 2 * A_DAY * DAYS
    press, day = np.tile(["P1", "P2"], n // 2), np.repeat(np.arange(DAYS), 2 * A_DAY)
    cold = np.where(press == "P1", np.maximum(day - 20, 0) * 0.15, 0.0)
    hit = rng.random(n) < 0.04 * (1 + per_degree * cold)
    at = END - pd.to_timedelta(DAYS - 1 - day, unit="D") - pd.Timedelta(hours=2)
    return pd.DataFrame({
        "piece_id": [f"B{i}" for i in range(n)], "inspected_at": at.strftime("%Y-%m-%dT%H:%MZ"),
        "press": press, "fabric": "fleece", "transfer": "film", "location": "back",
        "defects": np.where(hit, "lifted_edge", "")})


def surveys() -> pd.DataFrame:
    rows = []
    for week in range(9):
        at = END - pd.Timedelta(days=DAYS - 1 - 7 * week)
        for press in ("P1", "P2"):
            off = -max(7 * week - 20, 0) * 0.15 if press == "P1" else 0.0
            rows += [{"survey_id": f"{press}-{week}", "measured_at": at.isoformat(), "press": press,
                      "platen": "upper", "setpoint_c": 160, "row": row, "col": col,
                      "reading_c": 160 + off + 0.1 * ((week * 7 + row * col) % 5 - 2)}
                     for row in (1, 2) for col in (1, 2)]
    return pd.DataFrame(rows)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = open_shop(str(tmp_path / "shop.db"), create=True)
    yield made
    made.store.close()


def load(shop: Shop, tmp_path: Path, per_degree: float) -> None:
    presses = pd.DataFrame({"press": ["P1", "P2"], "temperature_tolerance_c": 5,
                            "check_every_days": 7})
    for name, frame in (("presses", presses), ("looks", looks(per_degree)),
                        ("surveys", surveys())):
        frame.to_csv(tmp_path / f"{name}.csv", index=False)
        report = load_files(shop, LoadRequest(paths=(str(tmp_path / f"{name}.csv"),),
                                              new_codes=True), by="ann", at_us=NOW)
        assert report.exit_code == 0, report


def test_waiting_is_told_in_pieces_and_in_money(shop: Shop, tmp_path: Path) -> None:
    load(shop, tmp_path, PER_DEGREE)
    (cost,) = delay_costs(shop, press_health(shop, as_of_us=NOW), as_of_us=NOW)
    assert (cost.press, cost.platen) == ("P1", "upper")
    assert cost.effect is not None and cost.effect.low < PER_DEGREE < cost.effect.high
    # 40 pieces a day at about 4 % and half as many again for each of some five degrees
    truth = A_DAY * 0.04 * PER_DEGREE * 5.4
    assert cost.low is not None and cost.high is not None
    assert cost.low < truth < cost.high
    assert cost.week is not None and cost.today is not None
    assert cost.week > 7 * cost.today  # the drift goes on
    said = delay_words(cost, shop)
    assert said.startswith("If service waits: about ")
    assert "EUR" not in said
    american = change_setting(shop, name="temperature_unit", value="f", by="ann", at_us=NOW)
    per_degf = 100 * cost.effect.per_degree / 1.8
    assert f"{per_degf:.0f} % more lifted edges and weak bonds for each °F too cold" in (
        delay_words(cost, american))
    change_setting(american, name="temperature_unit", value="c", by="ann", at_us=NOW)
    for name, value in (("defect_cost", "3.5"), ("currency", "EUR")):
        shop = change_setting(shop, name=name, value=value, by="ann", at_us=NOW)
    assert f"EUR {3.5 * cost.week:.0f}" in delay_words(cost, shop)


def test_no_effect_in_the_data_is_said(shop: Shop, tmp_path: Path) -> None:
    load(shop, tmp_path, 0.0)
    (cost,) = delay_costs(shop, press_health(shop, as_of_us=NOW), as_of_us=NOW)
    assert cost.today is None
    assert "cannot be told: the shop's own pieces cannot tell yet" in delay_words(cost, shop)


def test_a_shop_without_work_cannot_tell(shop: Shop, tmp_path: Path) -> None:
    surveys().to_csv(tmp_path / "surveys.csv", index=False)
    pd.DataFrame({"press": ["P1", "P2"], "temperature_tolerance_c": 5}).to_csv(
        tmp_path / "presses.csv", index=False)
    paths = (str(tmp_path / "presses.csv"), str(tmp_path / "surveys.csv"))
    load_files(shop, LoadRequest(paths=paths), by="ann", at_us=NOW)
    (cost,) = delay_costs(shop, press_health(shop, as_of_us=NOW), as_of_us=NOW)
    assert "nothing was pressed there" in delay_words(cost, shop)
