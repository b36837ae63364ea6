"""Bringing files in: a place to drop them, what would happen, and what happened."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import named
from dashboard.components.page import name_field
from dashboard.components.states import mark, notice
from dashboard.components.tables import table
from dashboard.pages.records.loading import columns_to_ignore, loadable
from dashboard.receiving import ENDINGS, MOST_BYTES, MOST_FILES, Run
from dashboard.text import records as words
from qc.desk.loading import FileReport

MOST_CODES_SHOWN = 200
SEEN_AT_ONCE = 2
"""So many rows of the table are seen without scrolling on any screen."""
MOST_MB = MOST_BYTES >> 20


def files_part() -> Component:
    """The place to drop files, before any were."""
    said: dict[str, Any] = {f"data-{name.replace('_', '-')}": said
                            for name, said in words.DROP_WORDS.items()}
    limits: dict[str, Any] = {"data-most": str(MOST_BYTES), "data-most-mb": str(MOST_MB),
                              "data-most-files": str(MOST_FILES),
                              "data-endings": ",".join(ENDINGS)}
    choose: dict[str, Any] = {"htmlFor": "drop-files"}
    return html.Div(
        [dcc.Store(id="files-sent"), dcc.Store(id="files-run"),
         dcc.Interval(id="files-tick", interval=500, disabled=True),
         html.Section(
             [html.H2(words.DROP_TITLE),
              html.P([html.Span(words.DROP_LEAD),
                      html.Label(words.DROP_CHOOSE, className="button do", **choose),
                      html.Span(id="drop-input")], className="drop-row"),
              html.P(words.DROP_LIMIT.format(most=MOST_MB), className="hint"),
              html.P(words.DROP_KINDS, className="hint"),
              html.P(id="drop-said", role="status", className="said")],
             id="drop", className="drop", **said, **limits),
         html.Div(id="files-report", className="stack")],
        className="files")


def progress(run: Run) -> Component:
    """How far reading or storing has come."""
    name, share = run.reading
    if run.state == "loading" and share >= 1:
        said = words.STORING.format(name=name)
    else:
        said = words.READING.format(name=name, share=formats.share(share, 0))
    return html.Div([html.P(said), html.Progress(value=str(round(100 * share)), max="100",
                                                 **named(said))],
                    className="paper progress", role="status")


def report_part(name: str, run: Run) -> Component:
    """What would happen with the files of a run, or what happened."""
    report = run.report
    if report is None:
        return notice(words.FILE_REFUSED, text.with_capital(f"{run.error}."), tone="watch")
    done = run.state == "loaded"
    files = [_file(name, at, file, done=done) for at, file in enumerate(report.files)]
    head = html.Div([html.H2(words.LOADED_TITLE if done else words.CHECKED_TITLE, id="report-title",
                             tabIndex=-1),
                     None if done else html.P(words.CHECKED_LEAD, className="hint")])
    return html.Div([head, *files, _after() if done else _before(run)], className="stack")


def _file(name: str, at: int, file: FileReport, *, done: bool) -> Component:
    shown = file.file.replace("\\", "/").rpartition("/")[2]
    kind = words.KIND_WORDS.get(file.kind or "", "")
    head = html.H3([shown, html.Small(f" {kind}") if kind else None])
    if file.error is not None:
        said = [html.Li(words.said_here(one)) for one in _errors(file)]
        return html.Section([head, mark("alarm", words.FILE_REFUSED), html.Ul(said)],
                            className="paper file")
    heads = words.FILE_ROW_DONE if done else words.FILE_ROW
    numbers = (file.n_read, file.n_loaded, file.n_already_there, file.n_rejected)
    facts = html.Dl([html.Div([html.Dt(heading), html.Dd(formats.count(n))],
                              className="bad" if heading == heads[3] and n else "")
                     for heading, n in zip(heads, numbers, strict=True)], className="facts counts")
    return html.Section([head, facts, _warnings(file), _wrong(name, at, file)],
                        className="paper file")


def _errors(file: FileReport) -> list[str]:
    whole = (file.error or "").replace(f"{file.file}: ", "")
    return [one for one in whole.split("; ") if one]


def _warnings(file: FileReport) -> Component | None:
    if not file.warnings:
        return None
    said = [one.replace(file.file.rpartition("/")[0] + "/", "") for one in file.warnings]
    return html.Div([html.H4(words.WARNINGS_TITLE),
                     html.Ul([html.Li(words.said_here(one)) for one in said],
                             className="cautions")])


def _wrong(name: str, at: int, file: FileReport) -> Component | None:
    if not file.n_rejected:
        return None
    rows = [(str(cell.line), cell.column or words.WHOLE_ROW, cell.value,
             words.wrong_here(cell)) for cell in file.wrong]
    n_shown = len({cell.line for cell in file.wrong})
    cut = None
    more = html.P(words.REJECTED_SCROLL.format(n=formats.count(len(rows))), className="source")
    if n_shown < file.n_rejected:
        cut = html.P(words.REJECTED_CUT.format(
            shown=formats.count(n_shown), total=formats.count(file.n_rejected)),
            className="source")
    take = html.Div([html.A(words.REJECTS_TAKE, href=f"/records/files/{name}/{at}/rejects.csv",
                            className="as-button"),
                     html.Span(words.REJECTS_MEANS, className="hint")], className="takes")
    return html.Div([html.H4(words.REJECTED_COUNT.format(n=formats.count(file.n_rejected))),
                     more if len(rows) > SEEN_AT_ONCE else None,
                     table(words.REJECTED_HEADS, rows, label=words.REJECTED_TITLE), cut, take],
                    className="wrong")


def _before(run: Run) -> Component:
    """What can be decided before loading, and the button."""
    n = loadable(run)
    ignore = [html.Li(dmc.Checkbox(id={"type": "files-ignore", "column": column}, size="md",
                                   label=words.IGNORE.format(name=column),
                                   checked=column in run.ignore))
              for column in columns_to_ignore(run)]
    asked_as_read = run.as_read or any("--as-read" in cell.message for file in _files(run)
                                       for cell in file.wrong)
    as_read = dmc.Checkbox(id="files-as-read", label=words.AS_READ, checked=run.as_read, size="md",
                           className="" if asked_as_read else "absent")
    many = words.LOAD_ONE if n == 1 else words.LOAD.format(n=formats.count(n))
    load = html.Button(many if n else words.LOAD_NOTHING,
                       id="files-load", type="button", className="button do", disabled=not n)
    return html.Section(
        [_codes(run), html.Ul(ignore, className="ignores") if ignore else None, as_read,
         html.Div([name_field(required=True), load, _anew()], className="fix-foot"),
         html.P(id="files-load-said", role="status", className="said")],
        className="paper decide case-work")


def _files(run: Run) -> tuple[FileReport, ...]:
    return run.report.files if run.report else ()


def _codes(run: Run) -> Component:
    """Codes on no list, with the tick that puts them there."""
    with_codes = run.with_codes or run.report
    found: dict[str, set[str]] = {}
    for file in with_codes.files if with_codes else ():
        for listed, codes in file.new_codes:
            found.setdefault(listed, set()).update(codes)
    lists = [html.Li([html.Strong(f"{words.CODE_LISTS[listed]}: "),
                      html.Span(", ".join(sorted(codes)[:MOST_CODES_SHOWN])
                                + (" …" if len(codes) > MOST_CODES_SHOWN else ""))])
             for listed, codes in sorted(found.items())]
    tick = dmc.Checkbox(id="files-new-codes", label=words.NEW_CODES, checked=run.new_codes,
                        size="md")
    return html.Div([html.P(words.NEW_CODES_LEAD, className="hint"), html.Ul(lists), tick],
                    className="new-codes" if found else "absent")


def _after() -> Component:
    return html.Div([dcc.Link(words.SEE_LOOKS, href="/records", className="as-button"),
                     _anew()], className="takes")


def _anew() -> Component:
    return html.Button(words.FILES_ANEW, id="files-anew", type="button", className="button")
