"""How long a chart goes on before it signals, and the limit for a wanted run length; no store."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from inspect import signature
from math import isclose, isfinite
from typing import Any

from qc.errors import InputError
from qc.stats.charts.rules import rule_set
from qc.stats.runlength.counts import count_alpha, count_limits, count_run_length
from qc.stats.runlength.cusum import cusum_decision, cusum_run_length
from qc.stats.runlength.ewma import ewma_run_length, ewma_width
from qc.stats.runlength.mewma import mewma_decision, mewma_run_length
from qc.stats.runlength.result import Caution, RunLength
from qc.stats.runlength.shewhart import shewhart_run_length, shewhart_width
from qc.stats.runlength.t2 import t2_alpha, t2_run_length
from qc.stats.runlength.times import time_alpha, time_limits, time_run_length


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRequest:
    """What to work out; None where not given.

    ``shifts`` : in sigma of the plotted statistic, for t2 and mewma as a Mahalanobis distance; for
    g and t factors on the rate of events. ``n_variables`` : of t2 and mewma.
    ``for_arl`` : in-control average run length to find the limit for.
    """

    kind: str
    shifts: tuple[float, ...] | None = None
    rules: str | None = None
    weight: float | None = None
    width: float | None = None
    reference: float | None = None
    decision: float | None = None
    head_start: float | None = None
    sides: str | None = None
    centre: float | None = None
    sigma: float | None = None
    size: float | None = None
    limits: str | None = None
    alpha: float | None = None
    n_variables: int | None = None
    state: str | None = None
    for_arl: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunKind:
    """How a kind of chart runs: its functions, its limit's name, and the options it takes.

    ``named`` : options that only have to be right, because this chart takes no account of them.
    """

    run: Callable[..., RunLength]
    design: Callable[..., float]
    limit: str
    options: tuple[str, ...]
    needed: tuple[str, ...] = ()
    named: tuple[str, ...] = ()
    band: Callable[..., tuple[float, float]] | None = None
    calm: float = 0.0
    shifts: tuple[float, ...] = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRow:
    """Run length after one shift."""

    shift: float
    run: RunLength


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundLimit:
    """The limit that gives a wanted run length. ``name`` : of the option that sets it.

    ``lower``, ``upper`` : what it comes to on a chart of counts or times; None elsewhere.
    """

    name: str
    value: float
    lower: float | None = None
    upper: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunAnswer:
    """Run lengths of one chart. ``calm`` : the shift that stands for no change.

    ``design`` : the chart's options with their values, by the names they go by.
    """

    kind: str
    state: str
    method: str
    calm: float
    rows: tuple[RunRow, ...]
    for_arl: float | None = None
    found: FoundLimit | None = None
    unused: tuple[str, ...] = ()
    design: tuple[tuple[str, float | str], ...] = ()

    @property
    def cautions(self) -> tuple[str, ...]:
        """What a reader must know, each once: of the run lengths, and of options of no account."""
        own = {caution: None for row in self.rows for caution in row.run.cautions}
        hidden = () if Caution.NO_LOWER_LIMIT in own else self._hidden()
        return (*self.unused, *hidden, *(caution.value for caution in own))

    def _hidden(self) -> tuple[str, ...]:
        """Shifts after which the chart signals no sooner than without one."""
        calm = [row.run.arl for row in self.rows if row.shift == self.calm]
        later = [f"{row.shift:g}" for row in self.rows if calm and row.shift != self.calm
                 and _no_sooner(row.run.arl, calm[0])]
        if not later:
            return ()
        change = "factor" if self.calm else "shift"
        return (f"after a {change} of {', '.join(later)} a signal comes no sooner than with no"
                " change: these limits do not look for it; rules, or probability limits instead of"
                " three sigma, may",)


def _no_sooner(arl: float, calm: float) -> bool:
    """Later by what counts, or the same to all digits that are sure."""
    return arl > 1.001 * calm or isclose(arl, calm, rel_tol=1e-9)


COUNTED = ("centre", "size", "rules", "limits", "alpha", "state")
FACTORS = (1.0, 0.25, 0.5, 1.5, 2.0, 4.0)
_MEANS = RunKind(run=shewhart_run_length, design=shewhart_width, limit="width",
                 options=("rules", "width", "state"), named=("centre", "sigma"))


def _counted(kind: str, *, sized: bool, **more: Any) -> RunKind:
    needed = ("centre", "size") if sized else ("centre",)
    return RunKind(
        run=partial(count_run_length, kind=kind), design=partial(count_alpha, kind=kind),
        band=partial(count_limits, kind=kind), limit="alpha", needed=needed,
        options=COUNTED if sized else tuple(name for name in COUNTED if name != "size"), **more,
    )


KINDS: dict[str, RunKind] = {
    "individuals": _MEANS,
    "xbar-r": replace(_MEANS, named=("size", "centre", "sigma")),
    "xbar-s": replace(_MEANS, named=("size", "centre", "sigma")),
    "ewma": RunKind(run=ewma_run_length, design=ewma_width, limit="width",
                    options=("weight", "width", "limits", "state"),
                    named=("rules", "centre", "sigma")),
    "cusum": RunKind(run=cusum_run_length, design=cusum_decision, limit="decision",
                     options=("reference", "decision", "head_start", "sides", "state"),
                     named=("rules", "centre", "sigma")),
    "t2": RunKind(run=t2_run_length, design=t2_alpha, limit="alpha", named=("rules",),
                  options=("n_variables", "alpha", "state"), needed=("n_variables",)),
    "mewma": RunKind(run=mewma_run_length, design=mewma_decision, limit="decision",
                     options=("n_variables", "weight", "decision", "limits", "state"),
                     needed=("n_variables",), named=("rules",)),
    "p": _counted("p", sized=True),
    "np": _counted("np", sized=True),
    "c": _counted("c", sized=False),
    "u": _counted("u", sized=True),
    "g": _counted("g", sized=False, calm=1.0, shifts=FACTORS),
    "t": RunKind(run=time_run_length, design=time_alpha, band=time_limits, limit="alpha",
                 options=("rules", "limits", "alpha", "state"), named=("centre",), calm=1.0,
                 shifts=FACTORS),
}
_UNUSED = {
    "size": "--size changes nothing: the shift is in sigma of the plotted mean",
    "centre": "--centre changes nothing: the run length does not depend on where the centre lies",
    "sigma": "--sigma changes nothing: shifts are counted in it",
    "rules": "only the limits count: patterns are for points that do not remember others",
}
_OPTION = {"weight": "lambda", "arl": "for-arl", "n_variables": "variables"}


def run_lengths(request: RunRequest) -> RunAnswer:
    """Run lengths of a chart at each shift, and its limit where one is looked for.

    Raises
    ------
    InputError
        The kind is not known, an option is missing, not for this kind or out of its range, or no
        limit gives the run length wanted.
    """
    kind = checked_kind(request)
    options = {name: getattr(request, name) for name in kind.options
               if getattr(request, name) is not None}
    try:
        found = None
        if request.for_arl is not None:
            found = _found(kind, request.for_arl, options)
            options[kind.limit] = found.value
            options |= {"limits": "probability"} if kind.band else {}
        rows = _rows(kind, request.shifts, options)
    except ValueError as wrong:
        raise InputError(_in_words(str(wrong))) from None
    return RunAnswer(kind=request.kind, state=rows[0].run.state, method=rows[0].run.method,
                     calm=kind.calm, rows=rows, for_arl=request.for_arl, found=found,
                     unused=_unused(kind, request), design=_design(kind, options))


def checked_kind(request: RunRequest) -> RunKind:
    """The kind asked for, if it can be worked out with these options."""
    if request.kind not in KINDS:
        raise InputError(f"there are no run lengths of kind {request.kind!r}; there are:"
                         f" {', '.join(KINDS)}")
    kind = KINDS[request.kind]
    given = [name for name in RunRequest.__dataclass_fields__
             if name not in ("kind", "shifts", "for_arl") and getattr(request, name) is not None]
    extra = [name for name in given if name not in kind.options + kind.named]
    if extra:
        raise InputError(f"a chart of kind {request.kind!r} takes no --{_option(extra[0])}")
    missing = [name for name in kind.needed if name not in given]
    if missing:
        raise InputError(f"a chart of kind {request.kind!r} needs --{_option(missing[0])}")
    if request.for_arl is not None:
        _check_search(kind, request)
    _check_named(kind, request)
    return kind


def parse_shifts(text: str) -> tuple[float, ...]:
    """'0,0.5,1' as numbers."""
    try:
        return tuple(float(item) for item in text.split(","))
    except ValueError:
        raise InputError(f"--shift is {text!r}; write numbers joined by commas, as in 0,0.5,1"
                         ) from None


def _check_search(kind: RunKind, request: RunRequest) -> None:
    if getattr(request, kind.limit) is not None:
        raise InputError(f"give --for-arl or --{kind.limit}, not both: one follows from the other")
    if kind.band and request.limits not in (None, "probability"):
        raise InputError(f"--limits is {request.limits!r}; --for-arl looks for probability limits")


def _check_named(kind: RunKind, request: RunRequest) -> None:
    """Options that change nothing must still be right."""
    if "rules" in kind.named and request.rules is not None:
        try:
            rule_set(request.rules)  # of no account to points that remember the ones before
        except ValueError as wrong:
            raise InputError(_in_words(str(wrong))) from None
    for name in ("size", "centre", "sigma"):
        value = getattr(request, name)
        anywhere = name == "centre" and kind.calm == 0
        if name in kind.named and value is not None and not (
                isfinite(value) and (anywhere or value > 0)):
            raise InputError(f"--{name} is {value:g}; it must be a finite number"
                             f"{'' if anywhere else ' above 0'}")


def _found(kind: RunKind, arl: float, options: dict[str, Any]) -> FoundLimit:
    searched = {name: value for name, value in options.items() if name != "limits" or not kind.band}
    value = kind.design(arl, **searched)
    if kind.band is None:
        return FoundLimit(name=kind.limit, value=value)
    placed = {name: searched[name] for name in kind.needed}
    lower, upper = kind.band(**placed, limits="probability", alpha=value)
    return FoundLimit(name=kind.limit, value=value, lower=lower, upper=upper)


def _rows(
    kind: RunKind, shifts: tuple[float, ...] | None, options: dict[str, Any]
) -> tuple[RunRow, ...]:
    """Run length after each shift; of the usual ones those that lead to a mean that can be."""
    rows = []
    for shift in shifts or kind.shifts:
        try:
            rows.append(RunRow(shift=shift, run=kind.run(shift, **options)))
        except ValueError:
            if shifts is not None or shift == kind.calm:
                raise
    return tuple(rows)


def _unused(kind: RunKind, request: RunRequest) -> tuple[str, ...]:
    """What is to be said of options that change nothing."""
    given = [name for name in kind.named if getattr(request, name) not in (None, "limits")]
    return tuple(_UNUSED[name] for name in given)


def _design(kind: RunKind, options: dict[str, Any]) -> tuple[tuple[str, float | str], ...]:
    """Every option of the chart with its value, the usual one where it was not given."""
    usual = {name: one.default for name, one in signature(kind.run).parameters.items()}
    values = {name: options.get(name, usual.get(name)) for name in kind.options if name != "state"}
    if values.get("limits") == "sigma":
        values.pop("alpha", None)  # of probability limits
    return tuple((_option(name), value) for name, value in values.items() if value is not None)


def _option(name: str) -> str:
    return _OPTION.get(name, name).replace("_", "-")


def _in_words(message: str) -> str:
    """A message about an argument as one about its option."""
    argument, _, rest = message.partition(" ")
    return f"--{_option(argument)} {rest}"
