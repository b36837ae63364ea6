"""Settings against recipe over a period: one row for each press and quantity, the worst first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from qc.domain.recipes import (
    PRESSURE_KINDS,
    SETTING_QUANTITIES,
    SETTING_STATES,
    PairWithout,
    SettingDrift,
    SettingRow,
    SettingsAgainstRecipe,
)
from qc.presses.actual_heat import Offsets
from qc.presses.recipes import Applied, Ints, recipe_faults, recipes_applied
from qc.presses.settings_drift import drifts_of, middles
from qc.presses.settings_judged import CODE, Judged, all_windows, judged_settings
from qc.presses.settings_parts import N_STATES, OUTSIDE, TOLD, Parts, Work, counted
from qc.stats.comparing.intervals import wilson_interval

SAYS_NOTHING = ("no_recipe", "not_asked")


def settings_against_recipe(
    pieces: pd.DataFrame, work: Work, recipes: pd.DataFrame, offsets: Offsets, *,
    around: Mapping[str, float], survey_valid_days: float, since_us: int, until_us: int,
) -> SettingsAgainstRecipe:
    """What was set at the pieces of a period against what their recipes ask.

    Parameters
    ----------
    pieces : pieces counted once, pressed in the period: press, fabric, transfer, operator,
        pressed_at, n and the settings of inspections, stored units
    work, offsets : of these pieces
    recipes : columns of that record kind, in the order of entry, at least one
    around : by quantity, how far to each side of a target a window goes whose recipe has no limit
        there; 0 or absent: such a side is open, and without any limit there is no window

    Notes
    -----
    Interval of a share: Wilson, as if pieces were set one by one; they are set by jobs, so it is
    narrower than what one more month would show. Drift: Theil-Sen slope of the days' medians; those
    stand out whose interval leaves out 0 and whose Mann-Kendall p-values, of all rows together,
    pass Benjamini and Hochberg at 5 %.
    """
    windows = all_windows(recipes, around)
    applied = recipes_applied(work.fabric, work.transfer, work.pressed_us, recipes)
    judged = judged_settings(pieces, recipes, windows, applied, offsets)
    found = [row for name in SETTING_QUANTITIES for row in _rows(name, judged[name], work)]
    drifts = drifts_of(judged, work, applied.now)
    told = _with_drift([row for row in found if row.n_told], drifts)
    return SettingsAgainstRecipe(
        since_us=since_us, until_us=until_us, n_recipes=len(recipes), n_pieces=int(work.n.sum()),
        n_with_recipe=int(work.n[applied.now >= 0].sum()),
        rows=tuple(sorted(told, key=_worst_first)),
        untold=tuple(row for row in found if not row.n_told and not _another_kind(row, told)),
        without=_without(judged, work, applied),
        faults=recipe_faults(recipes, windows, until_us=until_us),
        survey_valid_days=survey_valid_days,
    )


def _another_kind(row: SettingRow, told: Sequence[SettingRow]) -> bool:
    """Is it a kind of pressure that this press does not show? Its gaps are those of the kind that
    it does show."""
    return row.quantity in PRESSURE_KINDS and row.n_no_window + row.n_other_kind == 0 and any(
        other.press == row.press and other.quantity in PRESSURE_KINDS for other in told)


def _worst_first(row: SettingRow) -> tuple[int, float, str, int]:
    return (-row.n_outside, -(row.share or 0.0), row.press,
            SETTING_QUANTITIES.index(row.quantity))


def _rows(name: str, judged: Judged, work: Work) -> list[SettingRow]:
    """One quantity at each press of which a recipe asks for it."""
    n_presses = len(work.press.levels)
    cells = work.press.codes * N_STATES + judged.state
    counts = counted(cells, work.n, n_presses * N_STATES).reshape(n_presses, N_STATES)
    silent = [CODE[state] for state in SAYS_NOTHING]
    speaks = counts.sum(axis=1) - counts[:, silent].sum(axis=1) > 0
    marks = {field: counted(work.press.codes[which], work.n[which], n_presses)
             for field, which in (("n_hidden", judged.hidden), ("n_as_before", judged.as_before),
                                  ("n_by_default", judged.by_default))}
    middle = middles(judged.off, TOLD[judged.state], work)
    parts = Parts(name, judged, work)
    return [
        _row(name, press, counts[press], {field: int(n[press]) for field, n in marks.items()},
             middle.get(press, (None, None, None)), parts, work)
        for press in np.flatnonzero(speaks).tolist()
    ]


def _row(
    name: str, press: int, counts: Ints, marks: dict[str, int],
    middle: tuple[float | None, float | None, float | None], parts: Parts, work: Work,
) -> SettingRow:
    by_state = {f"n_{state}": int(n) for state, n in zip(SETTING_STATES, counts, strict=True)
                if state != "not_asked"}
    n_told, n_outside = int(counts[TOLD].sum()), int(counts[OUTSIDE].sum())
    interval = wilson_interval(n_outside, n_told) if n_told else None
    most, (first, last, before) = parts.most_set(press), parts.span(press)
    return SettingRow(
        press=work.press.levels[press], quantity=name, **by_state, **marks,
        share=None if interval is None else float(interval.share),
        share_low=None if interval is None else float(interval.low),
        share_high=None if interval is None else float(interval.high),
        off_low=middle[0], off_median=middle[1], off_high=middle[2], most_set=most[0],
        most_asked=most[1], first_us=first, last_us=last, n_before_first=before,
        operators=parts.operators(press), pairs=parts.pairs(press), drift=None,
    )


def _with_drift(
    rows: Sequence[SettingRow], drifts: Mapping[tuple[str, str], SettingDrift]
) -> list[SettingRow]:
    return [replace(row, drift=drifts.get((row.press, row.quantity))) for row in rows]


def _without(
    judged: Mapping[str, Judged], work: Work, applied: Applied
) -> tuple[PairWithout, ...]:
    """Fabrics with transfers of whose pieces nothing at all can be told, most pieces first."""
    none = applied.now < 0
    silent = ~none & ~np.logical_or.reduce([one.recorded for one in judged.values()])
    cases = (("no_recipe", none & ~applied.listed), ("not_yet_valid", none & applied.listed),
             ("nothing_recorded", silent))
    found = []
    for why, which in cases:
        at = np.flatnonzero(which & (work.fabric.codes >= 0) & (work.transfer.codes >= 0))
        pairs, where = np.unique(work.pair[at], return_inverse=True)
        n_transfers = len(work.transfer.levels)
        for code, n in zip(pairs, counted(where, work.n[at], len(pairs)), strict=True):
            found.append(PairWithout(
                fabric=work.fabric.levels[code // n_transfers],
                transfer=work.transfer.levels[code % n_transfers], why=why, n_pieces=int(n)))
    return tuple(sorted(found, key=lambda one: (-one.n_pieces, one.fabric, one.transfer)))
