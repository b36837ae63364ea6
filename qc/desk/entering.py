"""A platen survey written down by hand: judged and kept like one from a file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from qc.desk.loading import measured_cautions
from qc.desk.service import service_orders
from qc.desk.shop import Shop
from qc.domain.instants import from_us, parse_instant
from qc.domain.records import PLATEN_READINGS, PLATENS, SURVEY_STATES
from qc.errors import Conflict, FormError, InputError
from qc.intake import Parsed, RawTable, parse
from qc.store.codes import known_codes
from qc.store.records import add_records, read_records

SOURCE = "entered by hand"
LOOKS_LIKE = "but near it as °"
"""What the intake says of a reading that looks like the other unit."""
OTHER_UNIT = ("far from the setpoint, but near it in the other unit: if that is what was read, "
              "change the numbers; if they are right, say so and keep them")


SEPARATOR = ";"
"""A form parts nothing by commas, so 159,1 is a number in it."""
FIELD_NAMES = {"setpoint_c": "setpoint", "measured_at": "when"}
"""The fields of the form that go into columns of another name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyWritten:
    """A survey as somebody wrote it, texts as typed. ``readings``: by (row, column) from 1, those
    left empty too; temperatures in ``unit`` ('c' or 'f'). ``when``: a time, empty for now.
    ``as_read``: a reading that looks like the other unit is meant."""

    press: str
    platen: str
    state: str
    setpoint: str
    readings: Mapping[tuple[int, int], str]
    unit: str
    instrument: str = ""
    when: str = ""
    as_read: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyKept:
    """The survey's number, how many points it has, whether it was there already, and what looks
    wrong with it, for the person who made it to answer."""

    survey_id: str
    n_points: int
    already_there: bool
    cautions: tuple[str, ...]


def enter_survey(shop: Shop, written: SurveyWritten, *, by: str, at_us: int) -> SurveyKept:
    """Keep a survey.

    Raises
    ------
    FormError
        A text is no number or out of range, a code is not on its list, a reading looks like the
        other unit, or the time cannot be or is still to come; at the fields it concerns.
    InputError
        No point was probed, or the platen or the state cannot be.
    Conflict
        As left before as found under an open service order, or another survey of the same minute.
    """
    if written.platen not in PLATENS or written.state not in SURVEY_STATES:
        raise InputError("a survey is of an upper or a lower platen, and routine, as found or as "
                         "left")
    at = _moment(shop, written.when) if written.when.strip() else at_us
    _check_order(shop, written, at)
    raw = _table(shop, written, at)
    parsed = parse(raw, PLATEN_READINGS.name, zone=shop.zone, known=known_codes(shop.store),
                   new_codes=False, now_us=at_us, as_read=written.as_read)
    if parsed.rejects:
        raise _refused(raw, parsed)
    added = add_records(shop.store, PLATEN_READINGS.name, parsed.frame, by=by, at_us=at_us,
                        source=SOURCE, new_codes={})
    if added.conflict.any():
        raise Conflict("another survey of this platen has the same minute and state; write a time "
                       "of its own")
    readings = read_records(shop.store, PLATEN_READINGS.name)
    instruments = read_records(shop.store, "instruments")
    return SurveyKept(
        survey_id=str(parsed.frame["survey_id"].iloc[0]), n_points=len(parsed.frame),
        already_there=added.n_loaded == 0,
        cautions=measured_cautions(PLATEN_READINGS.name, parsed.frame, readings, instruments,
                                   shop.zone),
    )


def _moment(shop: Shop, when: str) -> int:
    try:
        return parse_instant(when, shop.zone)
    except InputError as refused:
        raise FormError({"when": refused.problems}) from None


def _check_order(shop: Shop, written: SurveyWritten, at_us: int) -> None:
    """What was found must be written down before anything is changed."""
    if written.state != "as_left":
        return
    for one in service_orders(shop, as_of_us=at_us):
        order = one.order
        if order.is_open and (order.press, order.platen) == (written.press, written.platen) and (
                one.found is None):
            raise Conflict(f"order {order.order_id} has no survey as found yet; survey and write "
                           "that down before anything is adjusted")


def _table(shop: Shop, written: SurveyWritten, at_us: int) -> RawTable:
    points = {at: text.strip() for at, text in written.readings.items() if text.strip()}
    if not points:
        raise InputError("no reading is written down; probe at least one point")
    moment = from_us(at_us, shop.zone)
    name = f"{written.press}-{written.platen}-{moment:%Y%m%d-%H%M}-{written.state}"
    columns = {
        "survey_id": name, "measured_at": shop.iso(at_us), "press": written.press,
        "platen": written.platen, f"setpoint_{written.unit}": written.setpoint.strip(),
        "instrument": written.instrument.strip(), "state": written.state,
    }
    rows = sorted(points)
    cells = [np.full(len(rows), text, dtype=object) for text in columns.values()]
    cells += [np.array(texts, dtype=object) for texts in (
        [str(row) for row, _ in rows], [str(col) for _, col in rows], [points[at] for at in rows])]
    return RawTable(
        columns=(*columns, "row", "col", f"reading_{written.unit}"), cells=tuple(cells),
        lines=np.arange(len(rows), dtype=np.int64), separator=SEPARATOR)


def _refused(raw: RawTable, parsed: Parsed) -> FormError:
    """What is wrong in the words of the form, each once, at the field it concerns: a point by its
    place, as '1,2'."""
    row, col = raw.columns.index("row"), raw.columns.index("col")
    found: dict[str, list[str]] = {}
    other_unit: list[str] = []
    for line, faults in sorted(parsed.faults.items()):
        at = raw.cells[row][line], raw.cells[col][line]
        place = "row {}, column {}".format(*at)
        for field, words in faults:
            is_point = field in ("reading_c", "")
            name = point_name(*at) if is_point else FIELD_NAMES.get(field, field)
            mine = found.setdefault(name, [])
            if LOOKS_LIKE in words:
                other_unit.append(place)
            elif (told := _in_form(words, f"reading at {place}" if is_point else name)) not in mine:
                mine.append(told)
    if other_unit:
        where = "" if len(other_unit) == len(raw.lines) else f" ({'; '.join(other_unit)})"
        found[""] = [OTHER_UNIT + where]
    return FormError(found)


def point_name(row: int | str, col: int | str) -> str:
    """A point as a field of the form."""
    return f"{row},{col}"


def _in_form(words: str, what: str) -> str:
    """A message about a column, about the field of the form instead."""
    _, said, told = words.partition(" is ")
    if not said or words.startswith("press "):
        return words.partition(";")[0]
    told = told.replace("blank; every row needs it", "empty: write it down")
    told = told.replace(", not a number", ": write a number").replace("; allowed:", ": allowed are")
    return f"the {what} is {told}"
