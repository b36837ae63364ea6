"""How far people agree beyond chance when they sort the same pieces: kappa and its kin."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri, stdtrit

from qc.stats.checks import Floats, inside_unit, read_only, refuse_where, whole_counts

FEW = 30
MOSTLY = 0.9
WEIGHTS = ("equal", "linear", "quadratic")


class AgreementCaution(Enum):
    """What a reader must know before using a kappa; the value is the sentence to show."""

    ONE_CATEGORY = "all judgements fall into one category: agreement beyond chance is unknown"
    MOSTLY_ONE = (
        "nine judgements in ten or more fall into one category: kappa can be low although people"
        " agree; look at the counts"
    )
    FEW_PIECES = "fewer than 30 pieces: the interval is rough"
    COMPLETE = "no disagreement was seen: the interval says nothing"
    UNEQUAL_JUDGES = "not every piece was judged as often: no test against chance agreement"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kappa:
    """Agreement beyond chance: 1 complete, 0 what chance gives, below 0 less than that.

    ``observed``, ``expected`` : share of (weighted) agreement seen and that of chance.
    ``standard_error`` with the interval is for the kappa found; ``standard_error_null`` with
    ``z`` and the two-sided ``p_value`` is for no agreement beyond chance. nan where unknown.
    """

    kappa: float
    low: float
    high: float
    observed: float
    expected: float
    standard_error: float
    standard_error_null: float
    z: float
    p_value: float
    n_pieces: int
    confidence: float
    method: str
    cautions: tuple[AgreementCaution, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ManyJudges:
    """Agreement of several judges: over all categories, and of each against all others.

    ``share`` : of all judgements, each category; ``piece_agreement`` : share of agreeing pairs of
    judges on each piece (nan where fewer than two judged it); both read-only.
    """

    overall: Kappa
    by_category: tuple[Kappa, ...]
    share: Floats
    piece_agreement: Floats


def agreement_table(
    first: Sequence[Hashable], second: Sequence[Hashable], categories: Sequence[Hashable]
) -> Floats:
    """Counts of pieces by the first judge's category (rows) and the second's (columns).

    Raises
    ------
    ValueError
        Lengths differ, a category is named twice, or a judgement is none of the categories.
    """
    if len(first) != len(second):
        raise ValueError(
            f"first has {len(first)} values and second {len(second)}; they must be as many"
        )
    place = {name: at for at, name in enumerate(categories)}
    if len(place) < len(categories):
        raise ValueError(f"categories has a name twice: {list(categories)}")
    table = np.zeros((len(place), len(place)))
    for at, pair in enumerate(zip(first, second, strict=True)):
        for name in pair:
            if name not in place:
                raise ValueError(f"judgement is {name!r} at position {at + 1}; allowed: "
                                 f"{', '.join(map(str, categories))}")
        table[place[pair[0]], place[pair[1]]] += 1
    return table


def judgement_counts(
    judgements: Sequence[Sequence[Hashable]], categories: Sequence[Hashable]
) -> Floats:
    """Judgements of each piece (rows) by category (columns); a judgement None is left out.

    Raises
    ------
    ValueError
        A judgement is none of the categories.
    """
    place = {name: at for at, name in enumerate(categories)}
    counts = np.zeros((len(judgements), len(place)))
    for at, piece in enumerate(judgements):
        for name in piece:
            if name is not None and name not in place:
                raise ValueError(f"judgement is {name!r} of piece {at + 1}; allowed: "
                                 f"{', '.join(map(str, categories))}")
            if name is not None:
                counts[at, place[name]] += 1
    return counts


def cohen_kappa(
    table: npt.ArrayLike, *, disagreement: str | npt.ArrayLike = "equal", confidence: float = 0.95
) -> Kappa:
    """Agreement of two judges beyond chance, plain or weighted.

    Parameters
    ----------
    table : (k, k) whole pieces, k >= 2; first judge's category in rows, second's in columns
    disagreement : how bad it is to say i and j: "equal", "linear" or "quadratic" in the distance
        of ordered categories, or a (k, k) array, 0 on the diagonal, none negative
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        The table is not square, smaller than 2 x 2, empty, or has a count that is not whole;
        weights do not fit; confidence is outside (0, 1).

    Notes
    -----
    kappa = 1 - (disagreement seen) / (disagreement of chance), chance with each judge's own
    shares. Interval: normal, cut at -1 and 1, with the asymptotic standard error. Pieces must be
    judged independently, and by judges who do not see each other's verdict.

    Source
    ------
    Cohen (1960), Educ. Psychol. Meas. 20, 37-46; Cohen (1968), Psychol. Bull. 70, 213-220;
    standard errors: Fleiss, Cohen & Everitt (1969), Psychol. Bull. 72, 323-327.
    """
    counts = _square(table)
    z = float(ndtri(0.5 + inside_unit("confidence", confidence) / 2))
    n, p = float(counts.sum()), counts / counts.sum()
    agreement = 1 - _disagreement(disagreement, len(counts))
    rows, columns = p.sum(axis=1), p.sum(axis=0)
    observed, expected = float((agreement * p).sum()), float(rows @ agreement @ columns)
    kappa = _beyond(observed, expected)
    errors = _kappa_errors(p, agreement, kappa, expected)
    mostly = float((rows + columns).max() / 2)
    return _kappa(
        kappa, observed, expected, errors=(errors[0] / n**0.5, errors[1] / n**0.5), reach=z,
        n_pieces=int(n), confidence=confidence, mostly=mostly,
        method="Cohen kappa, errors of Fleiss, Cohen & Everitt",
    )


def fleiss_kappa(counts: npt.ArrayLike, *, confidence: float = 0.95) -> ManyJudges:
    """Agreement of several judges beyond chance; the judges may differ from piece to piece.

    Parameters
    ----------
    counts : (pieces, categories) whole judgements; two categories and two pieces or more. Pieces
        judged once count towards the shares only
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        The table is too small, a count is not whole, a piece was not judged, or no piece was
        judged twice.

    Notes
    -----
    Chance is the same for all judges: the categories' shares of all judgements. Interval: t with
    pieces - 1 degrees of freedom and the linearised variance over pieces, cut at -1 and 1; it
    speaks for other pieces of the same kind, judged by these people. The test against chance
    agreement needs every piece judged as often.

    Source
    ------
    Fleiss (1971), Psychol. Bull. 76, 378-382; error under no agreement: Fleiss, Nee & Landis
    (1979), Psychol. Bull. 86, 974-977; variance and unequal numbers of judges: Gwet (2008),
    British J. Math. Stat. Psychol. 61, 29-48 (from memory).
    """
    table = _judged(counts)
    inside_unit("confidence", confidence)
    share = (table / table.sum(axis=1, keepdims=True)).mean(axis=0)
    each = tuple(_fleiss(np.column_stack((one, table.sum(axis=1) - one)), confidence)
                 for one in table.T)
    return ManyJudges(
        overall=_fleiss(table, confidence), by_category=each, share=read_only(share),
        piece_agreement=read_only(_pair_agreement(table)),
    )


def _square(table: npt.ArrayLike) -> Floats:
    counts = np.array(table, dtype=np.float64)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1] or len(counts) < 2:
        raise ValueError(f"table has shape {counts.shape}; it must be square, 2 x 2 or larger")
    whole_counts("table", counts.ravel())
    if counts.sum() == 0:
        raise ValueError("table holds 0 pieces; it needs at least 1")
    return counts


def _disagreement(wanted: str | npt.ArrayLike, k: int) -> Floats:
    """Disagreement of each pair of categories, 0..1; kappa does not depend on its scale."""
    if isinstance(wanted, str):
        if wanted not in WEIGHTS:
            raise ValueError(f"disagreement is {wanted!r}; allowed: {', '.join(WEIGHTS)}, or an "
                             "array")
        apart = np.abs(np.subtract.outer(np.arange(k), np.arange(k))).astype(np.float64)
        weights = np.sign(apart) if wanted == "equal" else apart ** (1 + (wanted == "quadratic"))
    else:
        weights = np.array(wanted, dtype=np.float64)
        if weights.shape != (k, k):
            raise ValueError(f"disagreement has shape {weights.shape}; the table has {(k, k)}")
        refuse_where("disagreement", weights.ravel(),
                     ~(np.isfinite(weights) & (weights >= 0)).ravel(), "finite numbers from 0")
        if np.diag(weights).any() or not weights.any():
            raise ValueError("disagreement must be 0 on the diagonal and above 0 somewhere else")
    scaled: Floats = weights / weights.max()
    return scaled


def _kappa_errors(
    p: Floats, agreement: Floats, kappa: float, expected: float
) -> tuple[float, float]:
    """Standard errors of one piece: at the kappa found, and under no agreement beyond chance."""
    if np.isnan(kappa):
        return float("nan"), float("nan")
    rows, columns = p.sum(axis=1), p.sum(axis=0)
    typical = (agreement @ columns)[:, None] + (rows @ agreement)[None, :]
    found = (p * (agreement - typical * (1 - kappa)) ** 2).sum()
    found -= (kappa - expected * (1 - kappa)) ** 2
    null = (np.outer(rows, columns) * (agreement - typical) ** 2).sum() - expected**2
    # rounding may leave a hair below 0 where agreement is complete
    at_found, at_null = (max(float(part), 0.0) ** 0.5 / (1 - expected) for part in (found, null))
    return at_found, at_null


def _judged(counts: npt.ArrayLike) -> Floats:
    table = np.array(counts, dtype=np.float64)
    if table.ndim != 2 or table.shape[0] < 2 or table.shape[1] < 2:
        raise ValueError(
            f"counts has shape {table.shape}; it needs 2 pieces (rows) and 2 categories or more"
        )
    whole_counts("counts", table.ravel())
    judged = table.sum(axis=1)
    refuse_where("judgements of a piece", judged, judged == 0, "1 and up")
    if judged.max() < 2:
        raise ValueError("no piece was judged twice; agreement needs two judges of a piece")
    return table


def _pair_agreement(table: Floats) -> Floats:
    judged = table.sum(axis=1)
    pairs = np.where(judged > 1, judged * (judged - 1), np.nan)
    agreement: Floats = (table * (table - 1)).sum(axis=1) / pairs
    return agreement


def _fleiss(table: Floats, confidence: float) -> Kappa:
    n, judged = len(table), table.sum(axis=1)
    share = (table / judged[:, None]).mean(axis=0)
    agreement = _pair_agreement(table)
    observed, expected = float(np.nanmean(agreement)), float((share**2).sum())
    kappa = _beyond(observed, expected)
    equal = bool((judged == judged[0]).all())
    null = _fleiss_null_error(share, n, judged[0]) if equal else float("nan")
    return _kappa(
        kappa, observed, expected, errors=(_fleiss_error(table, agreement, kappa), null),
        reach=float(stdtrit(n - 1, 0.5 + confidence / 2)), n_pieces=n, confidence=confidence,
        mostly=float(share.max()), method="Fleiss kappa, linearised variance over pieces",
        more=() if equal else (AgreementCaution.UNEQUAL_JUDGES,),
    )


def _fleiss_error(table: Floats, agreement: Floats, kappa: float) -> float:
    """Standard error from how each piece pulls kappa, both in agreement and in chance."""
    n, judged = len(table), table.sum(axis=1)
    part = table / judged[:, None]
    share = part.mean(axis=0)
    expected = float((share**2).sum())
    if np.isnan(kappa):
        return float("nan")
    twice = ~np.isnan(agreement)
    seen = np.where(twice, agreement - expected, 0.0) * (n / twice.sum()) / (1 - expected)
    pull = seen - 2 * (1 - kappa) * (part @ share - expected) / (1 - expected)
    return float((((pull - kappa) ** 2).sum() / (n * (n - 1))) ** 0.5)


def _fleiss_null_error(share: Floats, n: int, judges: float) -> float:
    other = share * (1 - share)
    if other.sum() == 0:
        return float("nan")
    spread = other.sum() ** 2 - (other * (1 - 2 * share)).sum()
    return float((2 * spread / (n * judges * (judges - 1))) ** 0.5 / other.sum())


def _beyond(observed: float, expected: float) -> float:
    # a single category leaves 1 - expected at 0, or at a rounding error
    return (observed - expected) / (1 - expected) if 1 - expected > 1e-12 else float("nan")


def _kappa(
    kappa: float, observed: float, expected: float, *, errors: tuple[float, float], reach: float,
    n_pieces: int, confidence: float, mostly: float, method: str,
    more: tuple[AgreementCaution, ...] = (),
) -> Kappa:
    error, null = errors
    z = kappa / null if null > 0 else float("nan")
    low, high = max(-1.0, kappa - reach * error), min(1.0, kappa + reach * error)
    unknown = bool(np.isnan(kappa))
    return Kappa(
        kappa=kappa, low=kappa if unknown else low, high=kappa if unknown else high,
        observed=observed, expected=expected, standard_error=error, standard_error_null=null, z=z,
        p_value=float(2 * ndtr(-abs(z))), n_pieces=n_pieces, confidence=confidence, method=method,
        cautions=_cautions(unknown, observed, mostly, n_pieces) + more,
    )


def _cautions(
    unknown: bool, observed: float, mostly: float, n_pieces: int
) -> tuple[AgreementCaution, ...]:
    pairs = (
        (unknown, AgreementCaution.ONE_CATEGORY),
        (not unknown and mostly >= MOSTLY, AgreementCaution.MOSTLY_ONE),
        (n_pieces < FEW, AgreementCaution.FEW_PIECES),
        (not unknown and observed >= 1 - 1e-12, AgreementCaution.COMPLETE),
    )
    return tuple(caution for applies, caution in pairs if applies)
