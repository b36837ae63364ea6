"""Where pieces are now: in the house, held, scrapped, shipped, or pressed again and good."""

from __future__ import annotations

import numpy as np
import pandas as pd

from qc.desk.piece_lists import LOOK_COLUMNS as COUNTED
from qc.desk.piece_lists import listed_pieces
from qc.desk.shop import Shop
from qc.domain.counting import CountedPieces, count_once
from qc.store.inspections import read_findings, read_looks
from qc.store.records import read_records

LOOK_COLUMNS = ("piece_id", "location", "attempt", "stage", "inspected_at", "disposition")
GOOD = ("pass", "concession")


def pressed_between(
    shop: Shop, since_us: int, until_us: int, *, as_of_us: int
) -> tuple[CountedPieces, pd.DataFrame]:
    """Pieces pressed in a time, counted once, and as a list with where each is now."""
    counted = count_once(
        read_looks(shop.store, as_of_us=as_of_us, columns=COUNTED, since_us=since_us,
                   until_us=until_us),
        read_findings(shop.store, as_of_us=as_of_us, since_us=since_us, until_us=until_us))
    frame = listed_pieces(counted, np.arange(len(counted.pieces), dtype=np.int64))
    return counted, frame.assign(**whereabouts(shop, frame, as_of_us=as_of_us))


def whereabouts(shop: Shop, pieces: pd.DataFrame, *, as_of_us: int) -> pd.DataFrame:
    """Where each piece is.

    Parameters
    ----------
    pieces : piece_id, location, job, pressed_at and disposition, one row each

    Returns
    -------
    DataFrame with the rows of ``pieces``: ``status`` (of `qc.domain.whereabouts.STATUSES`),
    ``shipped_at`` (microseconds UTC, missing where not shipped or not known when), ``disposition``
    now, and ``look``, the number of the newest look.

    Notes
    -----
    A garment is scrapped or held if any of its places is. It shipped with its job (jobs:
    shipped_at) if it was pressed before that and is not held or scrapped, or if a customer has
    looked at it. The newest look in the house says what became of it.
    """
    if pieces.empty:
        empty = pd.DataFrame(index=pieces.index)
        return empty.assign(status=[], shipped_at=pd.array([], dtype="Int64"), disposition=[],
                            look=np.zeros(0, np.int64))
    looks = _looks(shop, pieces, as_of_us)
    at_customer = set(looks.loc[looks["stage"] == "customer", "piece_id"])
    newest = _newest(looks[looks["stage"] != "customer"])
    now = _matched(pieces, newest)
    gone = {name: set(newest.loc[newest["disposition"] == name, "piece_id"])
            for name in ("scrap", "hold")}
    shipped_at = _shipped_at(shop, pieces, as_of_us)
    piece = pieces["piece_id"].astype(object)
    repaired = (now["attempt"] > 1) & now["disposition"].isin(GOOD)
    chosen = [piece.isin(gone["scrap"]), piece.isin(gone["hold"]),
              shipped_at.notna() | piece.isin(at_customer), repaired]
    status = np.select([np.asarray(one, dtype=bool) for one in chosen],
                       ["scrapped", "held", "shipped", "pressed_again_good"], "in_house")
    out = now[["disposition", "look"]].assign(status=status, shipped_at=shipped_at)
    out.loc[out["status"] != "shipped", "shipped_at"] = pd.NA
    return out


def _looks(shop: Shop, pieces: pd.DataFrame, as_of_us: int) -> pd.DataFrame:
    looks = read_looks(shop.store, as_of_us=as_of_us, columns=list(LOOK_COLUMNS),
                       since_us=int(pieces["pressed_at"].min()))
    mine = looks[looks["piece_id"].isin(pieces["piece_id"].unique())]
    texts = {name: mine[name].astype(object) for name in ("piece_id", "location", "stage",
                                                           "disposition")}
    return mine.assign(**texts)


def _newest(looks: pd.DataFrame) -> pd.DataFrame:
    order = np.lexsort((looks.index.to_numpy(), looks["attempt"].to_numpy(),
                        looks["inspected_at"].to_numpy()))
    return looks.iloc[order].drop_duplicates(["piece_id", "location"], keep="last").reset_index()


def _matched(pieces: pd.DataFrame, newest: pd.DataFrame) -> pd.DataFrame:
    """The newest look of each row; where there is none, the row's own disposition."""
    keys = pieces[["piece_id", "location"]].astype(object)
    columns = ["piece_id", "location", "attempt", "disposition", "look"]
    found = keys.merge(newest[columns], on=["piece_id", "location"], how="left")
    found.index = pieces.index
    own = pieces["disposition"].astype(object)
    return found.assign(
        disposition=found["disposition"].where(found["disposition"].notna(), own),
        attempt=found["attempt"].fillna(1), look=found["look"].fillna(0).astype(np.int64),
    )


def _shipped_at(shop: Shop, pieces: pd.DataFrame, as_of_us: int) -> pd.Series:
    """When each piece left with its job; missing where it did not."""
    jobs = read_records(shop.store, "jobs", as_of_us=as_of_us)
    left = jobs[jobs["shipped_at"].notna()]
    when = pd.Series(left["shipped_at"].to_numpy(dtype=np.int64),
                     index=left["job"].astype(object).to_numpy())
    at = pieces["job"].astype(object).map(when).astype("Int64")
    out = (at <= as_of_us) & (at >= pieces["pressed_at"].to_numpy(dtype=np.int64))
    return at.where(out.fillna(False).astype(bool))
