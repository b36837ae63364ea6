"""Analysis of variance and variance components the slow way: sums over every single value."""

from __future__ import annotations

from collections.abc import Sequence

Cube = Sequence[Sequence[Sequence[float]]]


def mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


def crossed_squares(cube: Cube) -> tuple[float, float, float, float]:
    """Sums of squares of first, second, interaction and repeats, value by value."""
    a, b, r = len(cube), len(cube[0]), len(cube[0][0])
    every = [x for part in cube for cell in part for x in cell]
    grand = mean(every)
    first = [mean([x for cell in part for x in cell]) for part in cube]
    second = [mean([x for part in cube for x in part[j]]) for j in range(b)]
    parts = people = both = repeats = 0.0
    for i in range(a):
        for j in range(b):
            middle = mean(cube[i][j])
            for k in range(r):
                parts += (first[i] - grand) ** 2
                people += (second[j] - grand) ** 2
                both += (middle - first[i] - second[j] + grand) ** 2
                repeats += (cube[i][j][k] - middle) ** 2
    return parts, people, both, repeats


def crossed_components(cube: Cube) -> dict[str, float]:
    """Components with the interaction kept, from the expected mean squares as printed."""
    a, b, r = len(cube), len(cube[0]), len(cube[0][0])
    squares = crossed_squares(cube)
    df = (a - 1, b - 1, (a - 1) * (b - 1), a * b * (r - 1))
    part, person, both, repeat = (s / d for s, d in zip(squares, df, strict=True))
    found = {
        "parts": (part - both) / (b * r), "people": (person - both) / (a * r),
        "interaction": (both - repeat) / r, "repeatability": repeat,
    }
    return {name: max(value, 0.0) for name, value in found.items()}


def nested_components(cube: Cube) -> tuple[float, float, float]:
    """Variance that repeats, days and runs add, as found (may be negative)."""
    runs, days, repeats = len(cube), len(cube[0]), len(cube[0][0])
    first = mean([sum((x - mean(day)) ** 2 for x in day) / (repeats - 1)
                  for run in cube for day in run])
    averages = [[mean(day) for day in run] for run in cube]
    second = mean([sum((x - mean(run)) ** 2 for x in run) / (days - 1) for run in averages])
    means = [mean(run) for run in averages]
    third = sum((x - mean(means)) ** 2 for x in means) / (runs - 1)
    return first, second - first / repeats, third - second / days
