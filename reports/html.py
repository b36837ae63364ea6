"""A document as one self-contained page: on screen, on a telephone, on paper.

Every text is escaped, there is no script, and the page's own policy forbids any request.
"""

from __future__ import annotations

from functools import cache
from html import escape
from importlib.resources import files

from reports.cells import shown, sound
from reports.document import (
    Block,
    Caution,
    Cell,
    Column,
    Document,
    Facts,
    Paragraph,
    Picture,
    Table,
    Title,
)
from reports.drawing import bare_drawing
from reports.picture.type import font_face

POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
OWN_FONT = f"{POLICY}; font-src data:"
"""For pages with pictures: their font is in the page itself, and is no request either."""
LONG_TEXT = 18
"""Characters from which the text of a cell may break; what is shorter is a name and stays whole."""
TALL_ROWS = 12
"""Rows from which a table of counts stands alone, so that it can go over to the next page."""


def render_html(document: Document) -> bytes:
    """The whole page, UTF-8."""
    blocks = "\n".join(_block(block) for block in document.blocks)
    drawn = any(isinstance(block, Picture) for block in document.blocks)
    style = f"{font_face()}\n{paper_style()}" if drawn else paper_style()
    return whole_page(document.title.text, style, f"""{_title(document.title)}
<main>
<div class="blocks">
{blocks}
</div>
{table_html(document.main, main=True)}
</main>""", policy=OWN_FONT if drawn else POLICY)


def whole_page(title: str, style: str, body: str, *, policy: str = POLICY) -> bytes:
    """A page that needs no other file, around a body whose texts are escaped already."""
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="referrer" content="no-referrer">
<title>{_text(title)}</title>
<style>
{style}</style>
</head>
<body>
{body}
</body>
</html>
""".encode()


@cache
def paper_style() -> str:
    """The style sheet all pages share."""
    return files("reports").joinpath("paper.css").read_text(encoding="utf-8")


def _text(text: str) -> str:
    return escape(sound(text), quote=True)


def _title(title: Title) -> str:
    over = f'<p class="over">{_text(title.over)}</p>\n' if title.over else ""
    under = f'\n<p class="under">{_text(title.under)}</p>' if title.under else ""
    return f"<header>\n{over}<h1>{_text(title.text)}</h1>{under}\n</header>"


def _block(block: Block) -> str:
    match block:
        case Paragraph():
            return (f'<section class="words"><h2>{_text(block.heading)}</h2>'
                    f"<p>{_text(block.text)}</p></section>")
        case Caution():
            return (f'<section class="caution" role="note"><h2><span aria-hidden="true">▲</span> '
                    f"{_text(block.heading)}</h2><p>{_text(block.text)}</p></section>")
        case Facts():
            pairs = "".join(
                f"<div><dt>{_text(name)}</dt><dd>{_text(value)}</dd></div>"
                for name, value in block.pairs
            )
            return f"<dl>{pairs}</dl>"
        case Picture():
            return _picture(block)
        case Table():
            return table_html(block)


def _picture(picture: Picture) -> str:
    source = f"<figcaption>{_text(picture.source)}</figcaption>" if picture.source else ""
    return (f'<figure><h2>{_text(picture.heading)}</h2><div role="img" '
            f'aria-label="{_text(picture.words)}">{sound(bare_drawing(picture.svg))}</div>'
            f"{source}</figure>")


def table_html(table: Table, *, main: bool = False) -> str:
    """A table with its caption, in a region that scrolls by itself."""
    heads = "".join(
        f'<th scope="col" class="{column.kind}">{_text(column.name)}</th>'
        for column in table.columns
    )
    rows = "\n".join(_row(table.columns, row) for row in table.rows)
    short = len(table.rows) <= TALL_ROWS
    if main:
        place = "list short" if short else "list"
    else:
        place = "counts" if short else "counts tall"
    note = f'<span class="note">{_text(table.note)}</span>' if table.note else ""
    return (
        f'<div class="{place}" role="region" tabindex="0" '
        f'aria-label="{_text(table.title)}"><table>'
        f"<caption>{_text(table.title)}{note}</caption>\n"
        f"<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}\n</tbody></table></div>"
    )


def _row(columns: tuple[Column, ...], row: tuple[Cell, ...]) -> str:
    first, *rest = (_cell(column, cell) for column, cell in zip(columns, row, strict=True))
    return f'<tr><th scope="row"{first}</th>{"".join(f"<td{cell}</td>" for cell in rest)}</tr>'


def _cell(column: Column, cell: Cell) -> str:
    """A cell without its tag's name."""
    text = shown(column, cell)
    kind: str = column.kind
    if kind == "text":
        kind = "long" if len(text) > LONG_TEXT else ""
    return f' class="{kind}">{escape(text)}' if kind else f">{escape(text)}"
