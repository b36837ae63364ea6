"""Columns and letters on paper: what fits, what is broken, what can be drawn."""

from __future__ import annotations

import json

import pytest
import typst

from reports import pdf
from reports.cells import REPLACED
from reports.columns import GAP, LANDSCAPE, PORTRAIT, SIZES, WIDEST, fit
from reports.document import Column, ColumnKind, Table
from reports.letters import _DRAWN, broken, drawable, one_line, wide

NAMES = ("2026-11-20 20:00", "J11-00001", "Maria João", "Lifted edge or corner, top left",
         "T-2041", "in house", "1\xa0234", "left chest", "AVATAR To Ty", "wwwww 77777 jjjjj")


def _table(*columns: tuple[str, str], kind: ColumnKind = "text", n: int = 1) -> Table:
    """A table of so many like rows; each column has its heading and its text."""
    return Table(
        title="T", rows=(tuple(text for _, text in columns),) * n,
        columns=tuple(Column(key=str(at), name=name, kind=kind)
                      for at, (name, _) in enumerate(columns)))


def test_what_fits_stays_upright_whole_and_in_the_largest_letters() -> None:
    fitted = fit(_table(("Piece", "J11-00001"), ("Where it is", "in house")))
    assert (fitted.landscape, fitted.size, fitted.whole) == (False, SIZES[0], True)
    assert fitted.rows == (("J11-00001", "in house"),)
    assert fitted.heads == ("Piece", "Where\nit is")
    assert sum(fitted.widths) < PORTRAIT / 3


def test_a_table_is_turned_before_its_names_are_divided() -> None:
    fitted = fit(_table(*[("Column", "J11-00001 ab")] * 10))
    assert fitted.landscape and fitted.size == SIZES[0] and sum(fitted.widths) <= LANDSCAPE
    assert all("\n" not in cell for cell in fitted.rows[0] if cell)


def test_long_texts_take_more_lines_before_letters_get_smaller_than_they_must() -> None:
    names = [("Column", "J11-00001 ab")] * 8
    fitted = fit(_table(*names, ("Note", "many words " * 30), ("More", "other words " * 30)))
    assert fitted.landscape and fitted.size == SIZES[1]
    assert sum(fitted.widths) <= LANDSCAPE + 0.01
    name, note = fitted.widths[0], fitted.widths[-1]
    assert name >= SIZES[1] * wide("J11-00001 ab", bold=True) and note > name
    alone = fit(_table(("Piece", "J1"), ("Note", "many words " * 30)))
    assert alone.widths[1] == pytest.approx(SIZES[0] * WIDEST + GAP)


def test_where_nothing_else_helps_names_are_divided() -> None:
    fitted = fit(_table(*[("Column number", "value-1234567")] * 40))
    assert fitted.size == SIZES[-1] and sum(fitted.widths) == pytest.approx(LANDSCAPE)
    cell = fitted.rows[0][5]
    assert cell is not None and "\n" in cell and cell.replace("\n", "") == "value-1234567"
    room = fitted.widths[5] / fitted.size
    assert all(wide(line) <= room for line in cell.split("\n"))


def test_boxes_stay_empty_and_wide_enough() -> None:
    table = Table(title="T", rows=((None,),), columns=(Column(key="t", name="", kind="tick"),))
    fitted = fit(table)
    assert fitted.rows == ((None,),) and fitted.widths[0] > 12


def test_a_row_of_many_lines_may_go_over_to_the_next_page() -> None:
    assert not fit(_table(("Note", "many words " * 100))).whole
    assert not fit(_table(("Note", "\n".join("abcdefghijklmnop")))).whole
    assert fit(_table(("Note", "many words " * 10))).whole


def test_a_table_without_rows_or_names_has_columns() -> None:
    fitted = fit(Table(title="", rows=(), columns=(Column(key="a", name=""),)))
    assert fitted.rows == () and fitted.widths[0] > GAP


def test_columns_are_reckoned_as_wide_as_they_are_set() -> None:
    """Beside the typesetter's own measure, unkerned as in tables: never less, and 1.3 at most."""
    for bold in (False, True):
        source = f"""#set text(font: json(bytes(sys.inputs.fonts)), fallback: false, size: 100pt,
            kerning: false, weight: {700 if bold else 400})
        #context [#metadata(json(bytes(sys.inputs.words)).map(w => measure(w).width / 100pt))<m>]"""
        measured = json.loads(typst.query(
            source.encode(), "<m>", field="value", one=True, font_paths=pdf._fonts(),
            sys_inputs={"fonts": json.dumps(pdf.FONTS), "words": json.dumps(NAMES)}))
        for name, width in zip(NAMES, measured, strict=True):
            assert width <= wide(name, bold=bold) <= 1.3 * width, name


def test_all_that_counts_as_drawn_can_be_drawn() -> None:
    """PDF/UA (ISO 14289-1, 7.21.8) forbids a letter without a shape; the typesetter refuses it."""
    points = []
    for span in _DRAWN.split():
        low, _, high = span.partition("-")
        points += [chr(at) for at in range(int(low, 16), int(high or low, 16) + 1)]
    assert len(points) > 3_000 and drawable("".join(points)).count(REPLACED) == 1

    def strict(text: str) -> None:
        source = b"""#set document(title: "T")
        #set text(font: json(bytes(sys.inputs.fonts)), fallback: false)
        #for word in json(bytes(sys.inputs.words)) [#text(word) #text(weight: 700, word) ]"""
        typst.compile(
            source, format="pdf", font_paths=pdf._fonts(), pdf_standards=["ua-1"],
            sys_inputs={"fonts": json.dumps(pdf.FONTS), "words": json.dumps(list(text))})

    strict("".join(points))
    for text in ("漢", "🧵", "א", "ท", "\ue000", "\ufeff"):
        assert drawable(text) == REPLACED
        with pytest.raises(typst.TypstError, match="could not be displayed|disallowed"):
            strict(text)


def test_lines_end_as_they_are_written_and_a_thin_space_is_seen() -> None:
    assert drawable("a\r\nb\rc\u2028d\x0be\x85f\tg") == "a\nb\nc\nd\ne\nf g"
    assert drawable("1\u202f234") == "1\xa0234"
    assert drawable("nul\x00, turned \u202e, half \ud83e") == (
        f"nul{REPLACED}, turned {REPLACED}, half {REPLACED}")


def test_a_word_is_divided_only_where_it_must_be_and_never_before_its_accent() -> None:
    assert broken("many short words", 4.0) == "many short words"
    pieces = broken("ab " + "w" * 20 + " cd", 5.0)
    assert pieces.replace("\n", "") == "ab " + "w" * 20 + " cd" and "ab \n" not in pieces
    assert all(wide(line) <= 5.0 for part in pieces.split() for line in part.split("\n"))
    accents = broken("e\u0301" * 40, 3.0)
    assert "\n" in accents and "\n\u0301" not in accents
    assert broken("w", 0.1) == "w"


def test_one_line_shows_what_is_cut() -> None:
    assert one_line("two\nlines", 50) == "two lines"
    cut = one_line("w" * 5_000, 20)
    assert cut.endswith("w…") and 18 < wide(cut) <= 20
