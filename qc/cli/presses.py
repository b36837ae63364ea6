"""`qc presses`: health of each press and platen, drift, and when it is due."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import typer

from qc.cli.lines import paragraph
from qc.cli.shared import AsOf, Json, Store, answer, as_of_us, open_store

if TYPE_CHECKING:
    from rich.console import Console

    from qc.desk.check_words import CheckLine
    from qc.desk.shop import Shop
    from qc.domain.platens import PlatenHealth

STATE_STYLE = {"recalibrate": "bold red", "overdue": "red", "watch": "yellow",
               "unknown": "magenta", "in_tolerance": "green"}
CHECK_WORDS = {"out": ("out", "bold red"), "not_shown": ("not shown", "yellow"),
               "in_tolerance": ("good", "green")}


def register(app: typer.Typer) -> None:
    """Add the command to the application."""

    @app.command()
    def presses(store: Store = None, as_of: AsOf = None, json: Json = False) -> None:
        """Health of each press and platen, how it drifts, and when it is due."""
        from qc.desk.presses import press_health

        shop = open_store(store)
        moment = as_of_us(as_of, shop)
        answer(
            press_health(shop, as_of_us=moment), as_json=json,
            to_json=lambda result: [platen_json(one, shop) for one in result],
            to_text=lambda result, console: _show(result, shop, moment, console),
        )


def platen_json(one: PlatenHealth, shop: Shop) -> dict[str, Any]:
    """One platen as JSON values; programs read these keys."""

    def when(instant_us: int | None) -> str | None:
        return None if instant_us is None else shop.iso(instant_us)

    between = one.crosses_between_us
    return {
        "press": one.press, "platen": one.platen, "last_survey_at": when(one.last_survey_at_us),
        "offset_c": one.offset_c, "spread_c": one.spread_c, "coldest": one.coldest,
        "uncertainty_c": one.uncertainty_c, "slope_c_per_day": one.slope_c_per_day,
        "slope_interval": one.slope_interval, "crosses_at": when(one.crosses_at_us),
        "crosses_between": None if between is None else [when(between[0]), when(between[1])],
        "due_at": when(one.due_at_us), "state": one.state, "reason": one.reason,
    }


def _show(
    found: tuple[PlatenHealth, ...], shop: Shop, as_of_us: int, console: Console
) -> None:
    """The platens, then what speaks of the presses besides their surveys."""
    from qc.cli.presses_settings import show_settings
    from qc.desk.check_words import check_lines
    from qc.desk.recipe_words import settings_in_words
    from qc.domain.platens import HOT_PLATEN_CAUTION

    if not found:
        console.print("No press is on the list and no platen has been surveyed yet.")
        return
    console.print(_table(found, shop))
    _show_reasons(found, shop, as_of_us, console)
    spots = _show_spots(shop, as_of_us, console)
    checks = check_lines(shop, as_of_us=as_of_us)
    if checks:
        console.print()
        console.print(_check_table(checks, shop))
    uneven = _show_pulls(shop, as_of_us, console)
    settings = settings_in_words(shop, as_of_us=as_of_us)
    show_settings(settings, console)
    hot = any(one.needs_service for one in found) or any(one.state == "out" for one in checks)
    if hot or spots or uneven or settings.heat_is_hidden:
        console.print()
        paragraph(console, HOT_PLATEN_CAUTION, style="bold")


def _show_reasons(
    found: tuple[PlatenHealth, ...], shop: Shop, as_of_us: int, console: Console
) -> None:
    from qc.desk.delay_cost import delay_costs, delay_words
    from qc.desk.platen_words import decision_words

    delays = {(one.press, one.platen): delay_words(one, shop)
              for one in delay_costs(shop, found, as_of_us=as_of_us)}
    for one in found:
        line = f"{one.press} {one.platen}: {one.reason}"
        paragraph(console, line, style=STATE_STYLE[one.state])
        decided = decision_words(one)
        for more in (decided and f"Decision: {decided}", delays.get((one.press, one.platen))):
            if more:
                paragraph(console, more, first="  ")
    if rules := {one.rule for one in found if one.rule}:
        console.print()
        paragraph(console, f"Decided by {rules.pop()} at its limit (setting guard_factor). Risk: "
                  "chance that the true value is beyond the tolerance.")


def _show_spots(shop: Shop, as_of_us: int, console: Console) -> bool:
    """What the finished pieces say; whether they say anything."""
    from qc.desk.piece_maps import piece_maps

    spots = [f"{one.map.press}, {words}" for one in piece_maps(shop, as_of_us=as_of_us)
             for words in one.words]
    if spots:
        console.print("\nFrom the finished pieces", style="bold")
    for words in spots:
        paragraph(console, words, style=STATE_STYLE["watch"])
    return bool(spots)


def _show_pulls(shop: Shop, as_of_us: int, console: Console) -> bool:
    """Pulls of paper and film, a line each; whether one is uneven."""
    from qc.desk.pull_words import pull_lines

    lines = pull_lines(shop, as_of_us=as_of_us)
    if lines:
        console.print("\nPressure at the corners (ranks of grip)", style="bold")
    for one in lines:
        paragraph(console, f"{one.where}, {one.method}: {one.said}",
                  style="yellow" if one.state == "uneven" else "")
    return any(one.state == "uneven" for one in lines)


def _table(found: tuple[PlatenHealth, ...], shop: Shop) -> Any:
    from rich.box import SIMPLE_HEAD
    from rich.markup import escape
    from rich.table import Table

    from qc.units import unit

    degree = unit("temperature_difference", shop.settings["temperature_unit"])

    def difference(value_c: float | None, form: str) -> str:
        return _number(None if value_c is None else value_c / degree.factor, form)

    table = Table(
        title="Platens, most urgent first", box=SIMPLE_HEAD, padding=(0, 1, 0, 0),
        caption=("offset: mean reading less setpoint; U: of the probe (k = 2); all in "
                 f"{degree.symbol}"),
    )
    table.add_column("press", overflow="fold")
    for heading in ("platen", "state", "surveyed"):
        table.add_column(heading, no_wrap=True)
    for heading in ("offset", "spread", "U", "a day"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("due", no_wrap=True)
    for one in found:
        table.add_row(
            escape(one.press), one.platen, one.state.replace("_", " "),
            _day(one.last_survey_at_us, shop, "%d %b"), difference(one.offset_c, "+.1f"),
            difference(one.spread_c, ".1f"), difference(one.uncertainty_c, ".1f"),
            difference(one.slope_c_per_day, "+.2f"), _day(one.due_at_us, shop, "%Y-%m-%d"),
            style=STATE_STYLE[one.state],
        )
    return table


def _check_table(checks: tuple[CheckLine, ...], shop: Shop) -> Any:
    from rich.box import SIMPLE_HEAD
    from rich.markup import escape
    from rich.table import Table

    table = Table(
        title="Timers and gauges, the worst first", box=SIMPLE_HEAD, padding=(0, 1, 0, 0),
        caption="off by: mean of measured less set (k = 2, from how far readings differ)",
    )
    table.add_column("press", overflow="fold", min_width=5)
    for heading in ("what", "set", "off by", "tolerance", "state", "checked"):
        table.add_column(heading, no_wrap=True)
    for one in checks:
        said, style = CHECK_WORDS[one.state]
        table.add_row(
            escape(one.press), one.what.lower(), one.set_to, one.off_by, one.tolerance,
            said, _day(one.checked_at_us, shop, "%d %b"), style=style,
        )
    return table


def _day(instant_us: int | None, shop: Shop, form: str) -> str:
    from qc.domain.instants import from_us

    return "–" if instant_us is None else from_us(instant_us, shop.zone).strftime(form)


def _number(value: float | None, form: str) -> str:
    return "–" if value is None else format(value, form).replace("-", "−")
