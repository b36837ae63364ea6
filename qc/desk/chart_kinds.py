"""The kinds of chart a file can be shown as: which function makes each, from which columns."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from qc.desk.chart_request import ChartRequest, written
from qc.errors import InputError
from qc.intake.numbers import LARGEST
from qc.stats.charts.chart import ControlChart
from qc.stats.charts.cusum import cusum_chart
from qc.stats.charts.ewma import ewma_chart
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.laney import p_prime_chart, u_prime_chart
from qc.stats.charts.mewma import mewma_chart
from qc.stats.charts.multivariate import t2_chart
from qc.stats.charts.q_charts import q_chart, q_rate_chart, q_share_chart
from qc.stats.charts.rare_events import g_chart, t_chart
from qc.stats.charts.shewhart_counts import c_chart, np_chart, p_chart, u_chart
from qc.stats.charts.short_run import deviation_chart, standardised_chart
from qc.stats.charts.subgroup_means import xbar_r_chart, xbar_s_chart


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartKind:
    """How a kind is made: its function, columns (field -> argument) and options it takes.

    ``remembers`` : its points carry earlier ones or several values on, so that rules beyond the
    limits are not for them.
    """

    make: Callable[..., ControlChart]
    columns: Mapping[str, str]
    optional: Mapping[str, str] = field(default_factory=dict)
    options: tuple[str, ...]
    remembers: bool = False


VALUE = {"value": "values"}
GROUPED = {"value": "values", "subgroup": "subgroup"}
OF_SIZE = {"count": "n_defective", "size": "n_inspected"}
PER_UNIT = {"count": "n_defects", "size": "n_units"}
SUBGROUP = {"subgroup": "subgroup"}
PART = {"part": "part"}
FROM = ("baseline", "excluded", "rules")
MEASURED = ("centre", "sigma", "width", "for_arl", *FROM)
COUNTED = ("centre", "limits", "alpha", "for_arl", *FROM)

KINDS: dict[str, ChartKind] = {
    "individuals": ChartKind(make=individuals_chart, columns=VALUE,
                             options=(*MEASURED, "independent")),
    "xbar-r": ChartKind(make=xbar_r_chart, columns=GROUPED, options=MEASURED),
    "xbar-s": ChartKind(make=xbar_s_chart, columns=GROUPED, options=MEASURED),
    "p": ChartKind(make=p_chart, columns=OF_SIZE, options=COUNTED),
    "np": ChartKind(make=np_chart, columns=OF_SIZE, options=COUNTED),
    "c": ChartKind(make=c_chart, columns={"count": "n_defects"}, options=COUNTED),
    "u": ChartKind(make=u_chart, columns=PER_UNIT, options=COUNTED),
    "p-prime": ChartKind(make=p_prime_chart, columns=OF_SIZE, options=("centre", "sigma", *FROM)),
    "u-prime": ChartKind(make=u_prime_chart, columns=PER_UNIT, options=("centre", "sigma", *FROM)),
    "g": ChartKind(make=g_chart, columns={"count": "n_between"}, options=COUNTED),
    "t": ChartKind(make=t_chart, columns={"value": "time_between"}, options=("sigma", *COUNTED)),
    "ewma": ChartKind(
        make=ewma_chart, columns=VALUE, optional=SUBGROUP, remembers=True,
        options=("centre", "sigma", "limits", "weight", "width", "for_arl", "independent", *FROM)),
    "cusum": ChartKind(
        make=cusum_chart, columns=VALUE, optional=SUBGROUP, remembers=True,
        options=("centre", "sigma", "reference", "decision", "head_start", "for_arl",
                 "independent", *FROM)),
    "t2": ChartKind(make=t2_chart, columns={"values": "values"}, optional=SUBGROUP, remembers=True,
                    options=("alpha", "for_arl", *FROM)),
    "mewma": ChartKind(
        make=mewma_chart, columns={"values": "values"}, optional=SUBGROUP, remembers=True,
        options=("weight", "decision", "limits", "for_arl", *FROM)),
    "deviation": ChartKind(
        make=deviation_chart, columns={"value": "values", "nominal": "nominal"},
        optional={"subgroup": "subgroup", "part": "part"},
        options=("centre", "sigma", "within", *FROM)),
    "standardised": ChartKind(
        make=standardised_chart, columns=VALUE, options=("within", *FROM),
        optional={"nominal": "nominal", "spread": "spread", "part": "part",
                  "subgroup": "subgroup"}),
    "q": ChartKind(make=q_chart, columns=VALUE, optional=PART,
                   options=("centre", "sigma", "rules")),
    "q-p": ChartKind(make=q_share_chart, columns=OF_SIZE, optional=PART,
                     options=("centre", "rules")),
    "q-u": ChartKind(make=q_rate_chart, columns=PER_UNIT, optional=PART,
                     options=("centre", "rules")),
}


_POSITION = re.compile(r"at (?:position|row) (\d+)")
_VARIABLES = re.compile(r"(?:the )?variables? \d+(?:, \d+)*")


def checked_kind(request: ChartRequest) -> ChartKind:
    """The kind asked for, if it can be made with these options.

    Raises
    ------
    InputError
        There is no such kind, a column it needs is not named, or an option is not for it.
    """
    if request.kind not in KINDS:
        raise InputError(f"there is no chart of kind {request.kind!r}; there are:"
                         f" {', '.join(KINDS)}")
    kind = KINDS[request.kind]
    _refuse_out_of_range(request)
    missing = [name for name in kind.columns if getattr(request, name) is None]
    if missing:
        names = "COLUMN,COLUMN,..." if missing[0] == "values" else "COLUMN"
        raise InputError(f"a chart of kind {request.kind!r} needs --{written(missing[0])} {names}")
    takes = {*kind.columns, *kind.optional, *kind.options, "kind", "sheet"}
    extra = [name for name in ChartRequest.__dataclass_fields__
             if name not in takes and getattr(request, name) is not None]
    if extra:
        raise InputError(f"a chart of kind {request.kind!r} takes no --{written(extra[0])}")
    if request.independent and request.subgroup is not None:
        raise InputError("--independent is for single values; leave out --subgroup")
    tails = request.limits == "probability" or "limits" not in kind.options
    if request.alpha is not None and not tails:
        raise InputError("--alpha is for --limits probability; give both or none")
    return kind


def _refuse_out_of_range(request: ChartRequest) -> None:
    """An option is a number of the same size as a cell of the file may be."""
    for name in ChartRequest.__dataclass_fields__:
        value = getattr(request, name)
        if isinstance(value, float) and not abs(value) <= LARGEST:
            raise InputError(f"--{written(name)} is {value:g}; it must be a number, at most"
                             f" {LARGEST:g} either side of 0")


def in_words(
    message: str, kind: ChartKind, request: ChartRequest, lines: Sequence[int]
) -> str:
    """A message about an argument as one about the column or option it came from.

    ``lines`` : the line of the file that each row begins on.
    """
    argument, _, rest = message.partition(" ")
    columns = {taken: name for name, taken in {**kind.columns, **kind.optional}.items()}
    if argument == "baseline" and request.baseline is None:
        return f"the file {rest}"
    if argument == "arl":
        argument = "for_arl"
    if argument in (*kind.options, "in_control_arl"):
        return f"--{written(argument)} {rest}"
    name = columns.get(argument) or next(iter(kind.columns))
    if request.values is not None:
        rest = _VARIABLES.sub(partial(_named, request.values), rest)
        if rest.startswith("of "):
            return f"columns {rest.removeprefix('of ')}"
    rest = _POSITION.sub(lambda found: f"in line {lines[int(found[1]) - 1]}", rest)
    return f"{_column(getattr(request, name))} {rest}"


def _named(names: tuple[str, ...], found: re.Match[str]) -> str:
    """Numbers of variables as the names of their columns."""
    return ", ".join(names[int(number) - 1] for number in re.findall(r"\d+", found[0]))


def _column(named: Any) -> str:
    return f"column {named!r}" if isinstance(named, str) else f"columns {','.join(named)!r}"
