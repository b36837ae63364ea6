"""`qc runlength`: how long a chart goes on before it signals, no store needed."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Annotated, Any

import typer

from qc.cli.pictures import Picture, check_picture, put_picture
from qc.cli.shared import Json, answer, say

if TYPE_CHECKING:
    from rich.console import Console

    from qc.desk.running import RunAnswer, RunRow

KINDS = "individuals, xbar-r, xbar-s, ewma, cusum, t2, mewma, p, np, c, u, g or t."
UNKNOWN_TO_US = {"ignore_unknown_options": True, "allow_extra_args": True}
"""So that an option of another kind of chart is answered in one line, not by a usage text."""


def register(app: typer.Typer) -> None:
    """Add `qc runlength`."""
    app.command("runlength", context_settings=UNKNOWN_TO_US)(runlength)


def _option(name: str, words: str, metavar: str = "X") -> Any:
    return typer.Option(name, metavar=metavar, help=words, show_default=False)


def runlength(
    context: typer.Context,
    kind: Annotated[str, _option("--kind", KINDS, "KIND")],
    shift: Annotated[str | None, _option(
        "--shift", "Shifts in sigma of the plotted statistic, as 0,0.5,1; for g and t factors on"
        " the rate of events, 1 being no change.", "A,B,...")] = None,
    rules: Annotated[str | None, _option(
        "--rules", "As for qc chart; default limits.", "RULES")] = None,
    weight: Annotated[float | None, _option(
        "--lambda", "Weight of the newest point of an EWMA; default 0.2, for mewma 0.1.")] = None,
    width: Annotated[float | None, _option(
        "--width", "Limits of an EWMA, of individuals or of means in sigma; default 3.")] = None,
    reference: Annotated[float | None, _option(
        "--reference", "Reference value of a CUSUM in sigma; default 0.5.")] = None,
    decision: Annotated[float | None, _option(
        "--decision", "Decision interval of a CUSUM in sigma, default 5; limit of mewma.")] = None,
    head_start: Annotated[float | None, _option(
        "--head-start", "What the sums of a CUSUM start from, in sigma; default 0.")] = None,
    sides: Annotated[str | None, _option(
        "--sides", "two (default) or one (upper sum alone), for a CUSUM.", "SIDES")] = None,
    centre: Annotated[float | None, _option(
        "--centre", "In-control mean of the plotted statistic, for p, np, c, u, g.")] = None,
    sigma: Annotated[float | None, _option(
        "--sigma", "As for qc chart; shifts are counted in it, so it changes nothing.")] = None,
    size: Annotated[float | None, _option(
        "--size", "Pieces in each sample (p, np) or units (u).", "N")] = None,
    limits: Annotated[str | None, _option(
        "--limits", "EWMA, mewma: steady (default) or exact; p, np, c, u, g, t: sigma (default) or"
        " probability.", "WHICH")] = None,
    alpha: Annotated[float | None, _option(
        "--alpha", "Chance beyond probability limits or that of t2; default 0.0027.")] = None,
    variables: Annotated[int | None, _option(
        "--variables", "Values measured together, for t2 and mewma; their shifts are distances in"
        " the covariance of a point.", "N")] = None,
    state: Annotated[str | None, _option(
        "--state", "zero (default): the chart starts with the shift; steady: the shift comes after"
        " long use without a signal.", "STATE")] = None,
    for_arl: Annotated[float | None, _option(
        "--for-arl", "Find the limit that gives this in-control average run length.")] = None,
    picture: Picture = None,
    as_json: Json = False,
) -> None:
    """Average, spread and percentiles of the number of points until a chart signals."""
    from qc.desk.running import RunRequest, checked_kind, parse_shifts, run_lengths
    from qc.errors import InputError

    request = RunRequest(
        kind=kind, shifts=None if shift is None else parse_shifts(shift), rules=rules,
        weight=weight, width=width, reference=reference, decision=decision,
        head_start=head_start, sides=sides, centre=centre, sigma=sigma, size=size, limits=limits,
        alpha=alpha, n_variables=variables, state=state, for_arl=for_arl,
    )
    checked_kind(request)
    if context.args:
        raise InputError(f"qc runlength does not know {context.args[0]!r}; see qc runlength --help")
    check_picture(picture)
    result = run_lengths(request)
    if picture is not None:
        from reports.picture.runlength.drawing import runlength_sheet

        put_picture(runlength_sheet(result), picture)
    for caution in result.cautions:
        say(f"note: {caution}")
    answer(result, as_json=as_json, to_json=_json, to_text=_text)


def _json(result: RunAnswer) -> dict[str, Any]:
    found: dict[str, Any] = {}
    if result.found is not None:
        found = {"for_arl": result.for_arl, result.found.name: result.found.value}
        if result.found.upper is not None:
            found |= {"lower": result.found.lower, "upper": result.found.upper}
    return {"kind": result.kind, "state": result.state, "method": result.method, **found,
            "rows": [_row_json(row) for row in result.rows]}


def _row_json(row: RunRow) -> dict[str, Any]:
    run = row.run
    return {"shift": row.shift, "arl": run.arl, "sdrl": run.sdrl,
            "percentiles": {f"{one.share * 100:g}": one.points for one in run.percentiles}}


def _text(result: RunAnswer, console: Console) -> None:
    if result.found is not None:
        console.print(_found(result), soft_wrap=True)
    console.print(_table(result))
    for sentence in _sentences(result):
        console.print(sentence, soft_wrap=True)
    console.print(f"method: {result.method}", style="dim", soft_wrap=True)


def _table(result: RunAnswer) -> Any:
    from rich.table import Table

    table = Table(box=None, pad_edge=False)
    for heading in ("factor" if result.calm else "shift", "average", "deviation"):
        table.add_column(heading, justify="right")
    for one in result.rows[0].run.percentiles:
        table.add_column(f"{one.share * 100:g} %", justify="right")
    for row in result.rows:
        points = [one.points for one in row.run.percentiles]
        table.add_row(f"{row.shift:g}", *(_number(x) for x in (row.run.arl, row.run.sdrl, *points)))
    return table


def _number(value: float) -> str:
    if not isfinite(value):
        return "never" if value > 0 else "-"
    if value >= 1e9:
        return f"{value:.3g}"
    return f"{value:.0f}" if value == int(value) else f"{value:.6g}"


def _found(result: RunAnswer) -> str:
    found = result.found
    if found is None:
        return ""
    band = "" if found.upper is None else f" (limits {found.lower:.6g} to {found.upper:.6g})"
    return f"--{found.name} {found.value:.8g}{band} for an average run length of {result.for_arl:g}"


def _sentences(result: RunAnswer) -> list[str]:
    """The run length in words: without a change, and after one of the changes."""
    calm = [row for row in result.rows if row.shift == result.calm]
    changed = [row for row in result.rows if row.shift != result.calm]
    said = [f"With no change a false signal comes after {_points(row)}." for row in calm[:1]]
    told = min(changed, key=lambda row: abs(row.shift - result.calm - 1), default=None)
    if told is not None:
        said.append(f"{_change(result, told)} is signalled after {_points(told)}.")
    if result.state == "steady":
        said.append("Points are counted from the change, after long use without a signal.")
    return said


def _points(row: RunRow) -> str:
    run = row.run
    if not isfinite(run.arl):
        return "more points than can be told"
    half = next(one.points for one in run.percentiles if one.share == 0.5)
    return (f"{_said(run.arl)} points on average, in half of all runs within {_said(half)},"
            f" in 95 of 100 within {_said(run.percentiles[-1].points)}")


def _said(value: float) -> str:
    """A number of points as people say it, to three digits or four; the table has more."""
    if 1000 <= value < 1e9:
        return f"{float(f'{value:.4g}'):.0f}"
    return _number(float(f"{value:.3g}"))


def _change(result: RunAnswer, row: RunRow) -> str:
    if result.calm:
        return f"A rate of events {row.shift:g} times the usual one"
    return f"A shift of {row.shift:g} sigma"
