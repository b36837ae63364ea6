"""Reading a QR code by hand: no error correction, one block, text of bytes. Plain and slow.

From ISO/IEC 18004:2015, from memory: format information (7.9), masks (7.8.2), placement of
codewords (7.7.3), modes (7.4), alignment patterns (Annex E), numbers of data codewords (Table 7).
"""

from __future__ import annotations

FORMAT_MASK = 0b101010000010010
LEVELS = {0b01: "L", 0b00: "M", 0b11: "Q", 0b10: "H"}
DATA_CODEWORDS = {
    (1, "L"): 19, (1, "M"): 16, (1, "Q"): 13, (1, "H"): 9, (2, "L"): 34, (2, "M"): 28, (2, "Q"): 22,
    (2, "H"): 16, (3, "L"): 55, (3, "M"): 44, (4, "L"): 80, (5, "L"): 108,
}
"""Of the symbols with one block: in (3, Q), (3, H) and the larger ones the codewords of several
blocks take turns."""
ALIGNED_AT = {1: (), 2: (6, 18), 3: (6, 22), 4: (6, 26), 5: (6, 30)}
MASKS = (
    lambda y, x: (y + x) % 2 == 0, lambda y, x: y % 2 == 0, lambda y, x: x % 3 == 0,
    lambda y, x: (y + x) % 3 == 0, lambda y, x: (y // 2 + x // 3) % 2 == 0,
    lambda y, x: (y * x) % 2 + (y * x) % 3 == 0,
    lambda y, x: ((y * x) % 2 + (y * x) % 3) % 2 == 0,
    lambda y, x: ((y + x) % 2 + (y * x) % 3) % 2 == 0,
)
ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"


def read_qr(dark: list[list[bool]]) -> str:
    """The text of a symbol, its modules row by row without the quiet zone."""
    side = len(dark)
    version = (side - 17) // 4
    format_bits = _number([dark[8][x] for x in (0, 1, 2, 3, 4, 5, 7, 8)]
                          + [dark[y][8] for y in (7, 5, 4, 3, 2, 1, 0)]) ^ FORMAT_MASK
    level, mask = LEVELS[format_bits >> 13], MASKS[format_bits >> 10 & 0b111]
    bits = [dark[y][x] != mask(y, x) for y, x in _path(side) if not _reserved(y, x, version)]
    return _text(bits[: 8 * DATA_CODEWORDS[version, level]])


def _path(side: int):
    """Positions in the order of the bits: pairs of columns from the right, up and down in turn."""
    right, up = side - 1, True
    while right > 0:
        if right == 6:  # the vertical timing pattern takes a column of its own
            right -= 1
        for step in range(side):
            y = side - 1 - step if up else step
            yield y, right
            yield y, right - 1
        right, up = right - 2, not up


def _reserved(y: int, x: int, version: int) -> bool:
    side = 17 + 4 * version
    finder = (y < 9 and x < 9) or (y < 9 and x >= side - 8) or (y >= side - 8 and x < 9)
    places = ALIGNED_AT[version]
    aligned = any(abs(y - a) <= 2 and abs(x - b) <= 2 for a in places for b in places
                  if (a, b) not in {(6, 6), (6, places[-1]), (places[-1], 6)})
    return finder or y == 6 or x == 6 or aligned


def _text(bits: list[bool]) -> str:
    mode, at = _number(bits[:4]), 4
    if mode == 0b0010:
        return _alphanumeric(bits)
    if mode == 0b0001:
        return _digits(bits)
    assert mode == 0b0100, mode
    n, at = _number(bits[at: at + 8]), at + 8
    said = bytes(_number(bits[at + 8 * i: at + 8 * i + 8]) for i in range(n))
    try:
        return said.decode()
    except UnicodeDecodeError:  # without a word about it a code is in ISO/IEC 8859-1
        return said.decode("latin-1")


def _alphanumeric(bits: list[bool]) -> str:
    n, at, found = _number(bits[4:13]), 13, ""
    while len(found) < n:
        wide = 11 if n - len(found) > 1 else 6
        value = _number(bits[at: at + wide])
        found += (ALPHANUMERIC[value // 45] if wide == 11 else "") + ALPHANUMERIC[value % 45]
        at += wide
    return found


def _digits(bits: list[bool]) -> str:
    n, at, found = _number(bits[4:14]), 14, ""
    while len(found) < n:
        some = min(3, n - len(found))
        wide = {3: 10, 2: 7, 1: 4}[some]
        found += f"{_number(bits[at: at + wide]):0{some}d}"
        at += wide
    return found


def _number(bits: list[bool]) -> int:
    value = 0
    for bit in bits:
        value = 2 * value + int(bit)
    return value
