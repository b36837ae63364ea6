"""The list of looks as a grid that asks the server for the rows it shows, and for no more."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from pathlib import Path
from threading import Lock
from typing import Any, Generic, TypeVar

import dash_ag_grid as dag
from dash import html
from dash.development.base_component import Component
from dash.fingerprint import build_fingerprint

from dashboard.components.attributes import named
from dashboard.formats import Clock
from dashboard.pages.records.asking import list_of
from dashboard.text import DISPOSITION_WORDS
from dashboard.text import records as words
from dashboard.view import RecordsView, address, look_key
from qc.desk.look_fields import findings_line
from qc.desk.looks import SORTS
from qc.domain.kinds import findings_in_words

BLOCK = 100
"""Rows asked for at once."""
ROW_PX = 48
MOST_RECENT = 4_000
_COLUMN_OF = {"piece": "piece_id", "look": "stage"}
"""The field a column is sorted by, where it has another name."""

Kept = TypeVar("Kept")

for _resource in dag._js_dist:
    # its 0.6 MB (packed) are fetched by the page that shows a grid, not by every page; see
    # assets/records.js
    if _resource["relative_package_path"] == "dash_ag_grid.min.js":
        _resource["dynamic"] = True


LIBRARY: dict[str, Any] = {"data-grid-library": "/_dash-component-suites/dash_ag_grid/"
                           + build_fingerprint("dash_ag_grid.min.js", dag.__version__, int(
                               Path(dag.__file__).with_name("dash_ag_grid.min.js").stat()
                               .st_mtime))}
"""Where the browser finds the grid's library."""


class Recent(Generic[Kept]):
    """What was found out about lists of late: where blocks of rows ended, so that the next one is
    found without walking past all before it, and how many looks there are. Safe from several
    threads; what is forgotten costs time alone."""

    def __init__(self) -> None:
        self._kept: OrderedDict[Hashable, Kept] = OrderedDict()
        self._lock = Lock()

    def keep(self, key: Hashable, value: Kept) -> Kept:
        with self._lock:
            self._kept[key] = value
            while len(self._kept) > MOST_RECENT:
                self._kept.popitem(last=False)
        return value

    def find(self, key: Hashable) -> Kept | None:
        with self._lock:
            return self._kept.get(key)


def grid_id(view: RecordsView, at_us: int) -> dict[str, Any]:
    """A grid knows what it lists, and as of when, by its name: pages of one list always fit."""
    return {"type": "looks", "of": address(list_of(view)), "at": at_us}


def grid(view: RecordsView, at_us: int) -> Component:
    """An empty grid that asks for its rows."""
    inside = dag.AgGrid(
        id=grid_id(view, at_us), rowModelType="infinite", columnDefs=_columns(view),
        defaultColDef={"resizable": True, "sortable": False, "suppressMovable": True,
                       "suppressHeaderMenuButton": True, "sortingOrder": ["desc", "asc"]},
        dashGridOptions={
            "rowHeight": ROW_PX, "headerHeight": ROW_PX, "cacheBlockSize": BLOCK,
            "maxBlocksInCache": 20, "rowBuffer": 10, "infiniteInitialRowCount": 1,
            "cacheOverflowSize": 1, "suppressMultiSort": True, "animateRows": False,
            "enableCellTextSelection": True, "blockLoadDebounceMillis": 60,
        },
        className="looks-grid", style={"height": None, "width": "100%"},
        dangerously_allow_code=False,
    )
    return html.Div(inside, className="looks-box", role="region", tabIndex=-1,
                    **named(words.GRID_LABEL))


def _columns(view: RecordsView) -> list[dict[str, Any]]:
    return [_column(name, heading, width, view) for name, heading, width in words.COLUMNS]


def _column(name: str, heading: str, width: int, view: RecordsView) -> dict[str, Any]:
    field = _COLUMN_OF.get(name, name)
    column: dict[str, Any] = {"colId": name, "field": name, "headerName": heading, "width": width,
                              "sortable": field in SORTS}
    if name == "piece":
        column |= {"pinned": "left", "cellRenderer": "LookLink", "lockPinned": True}
    if name == "findings":
        column |= {"cellRenderer": "LookFound"}
    sort = view.sort or "-pressed_at"
    if sort.lstrip("-") == field:
        column["initialSort"] = "desc" if sort.startswith("-") else "asc"
    return column


def sort_asked(sort_model: list[dict[str, str]] | None) -> str:
    """The order a grid asks for, as the address has it; empty for the usual one."""
    if not sort_model:
        return ""
    column, way = sort_model[0]["colId"], sort_model[0]["sort"]
    field = _COLUMN_OF.get(column, column)
    sort = f"-{field}" if way == "desc" else field
    return "" if sort == "-pressed_at" or field not in SORTS else sort


def grid_row(look: dict[str, Any], clock: Clock) -> dict[str, Any]:
    """A look as the grid shows it: texts alone."""
    version = look["version"]
    return {
        "key": look_key(look), "piece": look["piece_id"], "open": words.OPEN_LOOK.format(
            piece=look["piece_id"]),
        "pressed_at": clock.row_minute(look["pressed_at"]),
        "inspected_at": clock.row_minute(look["inspected_at"]),
        "findings": found_words(look), "bad": bool(look["findings"]),
        "disposition": DISPOSITION_WORDS.get(look["disposition"], look["disposition"]),
        "location": (look["location"] or "").replace("_", " "), "look": words.look_name(look),
        "version": words.CORRECTED.format(n=version - 1) if version > 1 else "",
        **{name: look[name] or "" for name in (
            "press", "fabric", "transfer", "job", "operator", "transfer_lot", "garment_lot",
            "size", "station")},
    }


def found_words(look: dict[str, Any]) -> str:
    """What a look found, in words; of a block, on how many of its pieces."""
    said = findings_in_words(findings_line(look["findings"]))
    if look["pieces"] == 1:
        return said
    block = words.OF_BLOCK.format(bad=look["defective"] or 0, n=look["pieces"])
    return f"{block}: {said}" if said else block
