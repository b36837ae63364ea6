"""T2 and its terms the slow way: exact fractions and elimination by hand, sharing nothing."""

from __future__ import annotations

from fractions import Fraction

Row = list[Fraction]


def exact_rows(rows: list[list[float]]) -> list[Row]:
    """Numbers as the fractions they are."""
    return [[Fraction(value) for value in row] for row in rows]


def mean_of(rows: list[Row]) -> Row:
    """Mean of each variable."""
    return [sum(column, Fraction(0)) / len(rows) for column in zip(*rows, strict=True)]


def products_about(rows: list[Row], centre: Row) -> list[Row]:
    """Sums of squares and products about a centre."""
    p = len(centre)
    off = [[x - m for x, m in zip(row, centre, strict=True)] for row in rows]
    return [[sum((o[i] * o[j] for o in off), Fraction(0)) for j in range(p)] for i in range(p)]


def scaled(matrix: list[Row], factor: Fraction) -> list[Row]:
    """A matrix times a number."""
    return [[factor * value for value in row] for row in matrix]


def added(one: list[Row], other: list[Row]) -> list[Row]:
    """The sum of two matrices."""
    return [[a + b for a, b in zip(r, s, strict=True)] for r, s in zip(one, other, strict=True)]


def solved(matrix: list[Row], right: Row) -> Row:
    """The solution of matrix y = right by elimination."""
    p = len(right)
    table = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    for i in range(p):
        pivot = next(r for r in range(i, p) if table[r][i] != 0)
        table[i], table[pivot] = table[pivot], table[i]
        for r in range(p):
            if r != i:
                share = table[r][i] / table[i][i]
                table[r] = [a - share * b for a, b in zip(table[r], table[i], strict=True)]
    return [table[i][p] / table[i][i] for i in range(p)]


def t2(point: Row, centre: Row, covariance: list[Row], keep: list[int] | None = None) -> Fraction:
    """off' covariance^-1 off, of all variables or of those kept."""
    keep = list(range(len(point))) if keep is None else keep
    off = [point[i] - centre[i] for i in keep]
    block = [[covariance[i][j] for j in keep] for i in keep]
    return sum((a * b for a, b in zip(off, solved(block, off), strict=True)), Fraction(0))
