"""A QR code as a drawing: a text that a hand scanner types."""

from __future__ import annotations

from reports.drawing import SVG

MODULE = 4
"""Side of one dark or light square: about 1 mm on paper, more than a hand scanner needs."""
QUIET = 4
"""Light squares around the code, as ISO/IEC 18004:2015 asks for."""
LONGEST = 300
"""Characters: a longer text makes squares that a worn sheet loses."""


def qr_drawing(text: str) -> str:
    """The code as one SVG element; error correction M or better: 15 % of it may be lost.

    Raises
    ------
    ValueError
        The text is empty, or longer than `LONGEST` characters.

    Source
    ------
    ISO/IEC 18004:2015, by the library segno.
    """
    import segno

    if not 0 < len(text) <= LONGEST:
        raise ValueError(f"a QR code holds 1 to {LONGEST} characters here, not {len(text)}")
    matrix = segno.make(text, error="m", micro=False).matrix
    side = MODULE * (len(matrix) + 2 * QUIET)
    runs = "".join(_runs(row, at) for at, row in enumerate(matrix))
    return (f'<svg xmlns="{SVG}" viewBox="0 0 {side} {side}" width="{side}" height="{side}">'
            f'<rect width="{side}" height="{side}" fill="#ffffff"/>'
            f'<path fill="#000000" d="{runs}"/></svg>')


def _runs(row: bytes | bytearray, at: int) -> str:
    """The dark squares of a row, those side by side as one."""
    parts, start = [], None
    for x, dark in enumerate([*row, 0]):
        if dark and start is None:
            start = x
        elif not dark and start is not None:
            wide = MODULE * (x - start)
            parts.append(f"M{MODULE * (start + QUIET)} {MODULE * (at + QUIET)}h{wide}v{MODULE}"
                         f"h-{wide}z")
            start = None
    return "".join(parts)
