"""Cases and documents made by hand, with every kind of text that people and machines write."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from qc.desk.cases import Case, CasePiece
from qc.domain.flags import FactorShare, Flag
from qc.domain.instants import HOUR_US, to_us
from reports.document import Caution, Column, Document, Facts, Paragraph, Table, Title

LISBON = ZoneInfo("Europe/Lisbon")
T0_US = to_us(datetime(2026, 10, 24, 10, 0, tzinfo=UTC))
AS_OF = datetime(2026, 11, 20, 20, 0, tzinfo=LISBON)

HOSTILE = (
    "=cmd|' /C calc'!A0", "+1+1", "-2", "@SUM(A1)", '=HYPERLINK("http://example.invalid","x")',
    "http://example.invalid/", "<script>document.title='run'</script>",
    '"><img src=x onerror=alert(1)>', "&amp; & &lt;", "{{7*7}} ${7*7}", "'; DROP TABLE looks; --",
    "ünïcode 漢字 🧵 عربى \u202egnirts", "w" * 5_000, "many words " * 400, "two\nlines", "007",
    "  around  ", "_x0041_",
)
UNFIT = "bell\x07 nul\x00 escape\x1b odd\ufffe"


def document(*cells: str, as_of: datetime = AS_OF) -> Document:
    """A document of every block, with a row for each of the texts given."""
    table = Table(
        title="Pieces to hold", note="a note",
        columns=(
            Column(key="piece_id", name="Piece"),
            Column(key="n", name="Pieces", kind="count"),
            Column(key="pressed_at", name="Pressed at (Europe/Lisbon)", kind="moment"),
            Column(key="disposition", name="What became of it", words=str.upper),
            Column(key="found", name="Found", kind="tick"),
        ),
        rows=tuple((cell, 1_234, as_of, "pass", None) for cell in cells),
    )
    first = cells[0] if cells else "nothing"
    return Document(
        title=Title(over="Lantern Yard Prints", text=f"Hold list: {first}", under="As known"),
        blocks=(
            Facts(pairs=(("What is off", first), ("Pieces", "1"))),
            Paragraph(heading="Do this first", text=first),
            Caution(heading="Before anyone touches a press", text="Platens burn."),
            replace(table, title="By piece"),
        ),
        main=table, as_of=as_of,
    )


def flag(**changes: object) -> Flag:
    """A lift of edges on press P2."""
    made = Flag(
        id="abc123", kind="defect_rate", characteristic="lifted_edge", direction="up", press="P2",
        platen=None, zone=None, signalled_at_us=T0_US + 30 * HOUR_US, changed_at_us=T0_US,
        changed_between_us=(T0_US - HOUR_US, T0_US + HOUR_US), ended_at_us=None,
        factor=FactorShare(name="press", level="P2", weight=0.96),
        other_factors=(FactorShare(name="operator", level="Ana", weight=0.04),),
        before=0.01, after=0.06, expected_after=0.01, unit="per piece", pieces_at_risk=3,
        also=(), message="Edges lift on press P2.", next_step="Check first: the gauge.",
        urgency=1.0, sure="Clearly more than luck; almost certainly press P2.",
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def piece(piece_id: str, **changes: object) -> CasePiece:
    made = CasePiece(
        piece_id=piece_id, location="left_chest", press="P2", operator="Ana", fabric="fleece",
        transfer="foam", transfer_lot="T-1", garment_lot="G-1", job="J10", pressed_at_us=T0_US,
        disposition="pass", n=1, defects="",
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def case(*pieces: CasePiece, of: Flag | None = None) -> Case:
    return Case(flag=of or flag(), shown_kind="lifted_edge", days=None, levels=(), pieces=pieces)
