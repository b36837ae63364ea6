"""What a part shows when it has no answer: loading, nothing there, an error; and state marks."""

from __future__ import annotations

import functools
import logging
from collections.abc import Callable
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard import formats, text
from dashboard.components.attributes import UNSEEN
from dashboard.components.page import page_link
from dashboard.theme import SHAPES
from qc.errors import NotFound, QcError

log = logging.getLogger(__name__)


def mark(tone: str, words: str, *, large: bool = False) -> Component:
    """A state: shape, colour and words together."""
    return html.Span(
        [html.Span(SHAPES[tone], className="mark-shape", **UNSEEN),
         html.Span(words)],
        className=f"mark tone-{tone}" + (" mark-large" if large else ""),
    )


def waiting(height_px: int = 220, why: str = "") -> Component:
    """The place of a part that is still being worked out; ``why`` it may take long is shown after a
    while."""
    long = html.P(why, className="waiting-long") if why else None
    return html.Div(
        [html.Span(text.LOADING), long], className="waiting", role="status",
        style={"minHeight": f"{height_px}px"},
    )


def notice(title: str, help_text: str, *children: Any, tone: str = "quiet") -> Component:
    """A designed empty state: what is so, and what to do about it."""
    return html.Div(
        [html.H3([html.Span(SHAPES[tone], className="mark-shape", **UNSEEN),
                  title]),
         html.P(formats.unbroken(help_text)), *children],
        className=f"notice tone-{tone}",
    )


def ways_to_begin() -> Component:
    """The ways to a first record."""
    return html.Div([
        html.Div([page_link(said, path) for path, said in text.BEGIN.items()],
                 className="ways"),
        html.P(text.BEGIN_FILE)])


def bring_in() -> Component:
    """The way to bring a file in."""
    return html.Div(dcc.Link(text.BRING_IN, href=text.FILES_AT, className="as-button"),
                    className="ways")


def danger(words: str = text.CAUTION) -> Component:
    """The caution where a press may be opened or worked on."""
    return html.Section(
        [html.H3([html.Span(SHAPES["alarm"], className="mark-shape", **UNSEEN),
                  text.CAUTION_TITLE]), html.P(words)],
        className="danger",
    )


def cautions(sentences: tuple[str, ...]) -> Component | None:
    """What a reader must know before using a number; nothing without cautions."""
    if not sentences:
        return None
    said = [html.Li(formats.unbroken(sentence)) for sentence in sentences]
    return html.Ul(said, className="cautions")


def guarded(part: Callable[..., Any]) -> Callable[..., Any]:
    """A callback whose failure is one part's notice, not a broken page."""

    @functools.wraps(part)
    def shown(*given: Any) -> Any:
        try:
            return part(*given)
        except PreventUpdate:
            raise
        except NotFound as error:
            return notice(text.NO_SUCH_FLAG_TITLE, f"{error}. {text.NO_SUCH_FLAG_HELP}")
        except QcError as error:
            return notice(text.ERROR_TITLE, text.with_capital(f"{error}."), tone="watch")
        except Exception:
            log.exception("a part of the page could not be worked out")
            return notice(text.ERROR_TITLE, text.ERROR_HELP, tone="watch")

    return shown
