"""Agreement of judges the slow way: sums over cells as printed, and left-out pieces."""

from __future__ import annotations

import math
from collections.abc import Sequence


def cohen(
    table: Sequence[Sequence[float]], disagreement: Sequence[Sequence[float]]
) -> tuple[float, float, float]:
    """Kappa, its standard error, and the one under no agreement, cell by cell."""
    k = len(table)
    n = sum(map(sum, table))
    worst = max(map(max, disagreement))
    w = [[1 - disagreement[i][j] / worst for j in range(k)] for i in range(k)]
    p = [[table[i][j] / n for j in range(k)] for i in range(k)]
    row = [sum(p[i]) for i in range(k)]
    column = [sum(p[i][j] for i in range(k)) for j in range(k)]
    row_weight = [sum(w[i][j] * column[j] for j in range(k)) for i in range(k)]
    column_weight = [sum(w[i][j] * row[i] for i in range(k)) for j in range(k)]
    seen = sum(w[i][j] * p[i][j] for i in range(k) for j in range(k))
    chance = sum(w[i][j] * row[i] * column[j] for i in range(k) for j in range(k))
    kappa = (seen - chance) / (1 - chance)
    found = sum(
        p[i][j] * (w[i][j] * (1 - chance) - (row_weight[i] + column_weight[j]) * (1 - seen)) ** 2
        for i in range(k) for j in range(k)
    ) - (seen * chance - 2 * chance + seen) ** 2
    null = sum(row[i] * column[j] * (w[i][j] - row_weight[i] - column_weight[j]) ** 2
               for i in range(k) for j in range(k)) - chance**2
    return (kappa, math.sqrt(max(found, 0) / n) / (1 - chance) ** 2,
            math.sqrt(max(null, 0) / n) / (1 - chance))


def fleiss(counts: Sequence[Sequence[float]]) -> float:
    """Kappa of many judges, as many for each piece, as printed in 1971."""
    pieces, judges = len(counts), sum(counts[0])
    share = [sum(row[j] for row in counts) / (pieces * judges) for j in range(len(counts[0]))]
    agree = [(sum(c * c for c in row) - judges) / (judges * (judges - 1)) for row in counts]
    chance = sum(p * p for p in share)
    return (sum(agree) / pieces - chance) / (1 - chance)


def left_out_error(counts: Sequence[Sequence[float]]) -> float:
    """Standard error of that kappa by leaving out one piece at a time."""
    n = len(counts)
    without = [fleiss([*counts[:i], *counts[i + 1:]]) for i in range(n)]
    middle = sum(without) / n
    return math.sqrt((n - 1) / n * sum((one - middle) ** 2 for one in without))
