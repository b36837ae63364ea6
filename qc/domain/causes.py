"""Causes in the order in which this shop should look: the trade's ranks and its own closed cases.

The trade's rank is where a shop begins. Each closed case whose cause is known moves that cause up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from qc.domain.cases import OTHER_CAUSES, CaseFile
from qc.domain.kinds import Cause, causes_of

PRIOR_CASES = 4.0
"""How many closed cases the trade's order is worth; a proposed starting value, no source."""

Experience = Mapping[tuple[str, str], int]
"""How often a shop found a cause: by (defect kind, code of the cause or the shop's own words)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedCause:
    """A cause with what this shop found.

    ``cause``: the trade's, None for the shop's own words. ``share``: chance that it is this one,
    over all causes listed, before anything is looked at. ``n_found``: closed cases it ended.
    """

    code: str
    words: str
    first_check: str
    cause: Cause | None
    share: float
    n_found: int


def experience_of(cases: Iterable[CaseFile]) -> dict[tuple[str, str], int]:
    """What closed cases found: agreed changes and false flags are no causes."""
    found: dict[tuple[str, str], int] = {}
    for case in cases:
        cause = case.cause
        if not case.is_closed or cause is None or cause["source"] in OTHER_CAUSES:
            continue
        key = (str(cause.get("defect") or case.flag.characteristic),
               str(cause.get("code") or cause["words"]))
        found[key] = found.get(key, 0) + 1
    return found


def ranked_causes(
    defect: str, experience: Experience | None = None, fit: Callable[[Cause], float] | None = None
) -> tuple[RankedCause, ...]:
    """Causes of a defect kind, the likeliest first.

    Parameters
    ----------
    defect : code of the kind; a shop's own kind has only what the shop found
    experience : as `experience_of` gives it; None for a shop without closed cases
    fit : how many times likelier than usual a cause is, given what else is known; None: nothing is

    Notes
    -----
    Dirichlet prior over the trade's causes with weights in proportion to fit / rank, worth
    `PRIOR_CASES` cases; each closed case adds 1 to its cause; the order is that of the posterior
    means. A cause in the shop's own words has no prior weight: it is listed once it was found.
    Ties keep the order of the trade's table.

    Source
    ------
    Dirichlet-multinomial: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., section 3.4
    (from memory). The ranks are common practice, no source.
    """
    found = {code: n for (kind, code), n in (experience or {}).items() if kind == defect}
    trade = causes_of(defect)
    weight = {cause.code: (fit(cause) if fit else 1.0) / cause.rank for cause in trade}
    whole = sum(weight.values())
    total = (PRIOR_CASES if trade else 0.0) + sum(found.values())
    listed = [
        _ranked(cause, PRIOR_CASES * weight[cause.code] / whole, found.get(cause.code, 0), total)
        for cause in trade
    ]
    own = [RankedCause(code=words, words=words, first_check="", cause=None, share=n / total,
                       n_found=n)
           for words, n in found.items() if words not in {cause.code for cause in trade}]
    return tuple(sorted([*listed, *own], key=lambda one: -one.share))


def _ranked(cause: Cause, prior: float, n_found: int, total: float) -> RankedCause:
    return RankedCause(code=cause.code, words=cause.words, first_check=cause.first_check,
                       cause=cause, share=(prior + n_found) / total, n_found=n_found)
