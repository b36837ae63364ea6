"""Analysis of variance: where variation comes from, for one factor, two crossed, and nested."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import fdtrc, fdtri

from qc.stats.checks import Floats, finite_array, inside_unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One line of a table: ``f`` = mean square over that of ``against_df`` degrees of freedom.

    ``f``, ``p_value`` are nan and ``against_df`` is None where there is nothing to hold the line
    against.
    """

    name: str
    sum_of_squares: float
    df: int
    mean_square: float
    f: float
    p_value: float
    against_df: int | None

    def critical(self, alpha: float = 0.05) -> float:
        """The ratio that chance alone exceeds with probability ``alpha``."""
        if self.against_df is None:
            return float("nan")
        return float(fdtri(self.df, self.against_df, 1 - inside_unit("alpha", alpha)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Anova:
    """A table of variation: its lines, and the total."""

    lines: tuple[Source, ...]
    total: float
    total_df: int

    def line(self, name: str) -> Source:
        """The line of this name; KeyError where there is none."""
        return {line.name: line for line in self.lines}[name]


def one_way(groups: Sequence[npt.ArrayLike]) -> Anova:
    """Do the means of several groups differ more than the values within them would have it?

    Parameters
    ----------
    groups : two groups or more of finite values, one unit; sizes may differ, one of them at
        least two

    Returns
    -------
    Anova
        Lines "between" and "within". Without any variation within, F is inf (nan where the means
        are equal too).

    Raises
    ------
    ValueError
        Fewer than two groups, an empty group, a value not finite, or no group with two values.

    Notes
    -----
    Values independent, normal, with the same spread in each group; the F test bears moderate
    departures where sizes are equal. Sums are taken about means, so that a large common level
    does not swallow the digits.

    Source
    ------
    Fisher (1925); NIST/SEMATECH e-Handbook, 7.4.3.3. Checked against the certified values of the
    NIST Statistical Reference Datasets, analysis of variance.
    """
    arrays = [finite_array(f"group {k}", group) for k, group in enumerate(groups, start=1)]
    if len(arrays) < 2:
        raise ValueError(f"groups holds {len(arrays)}; it needs at least 2")
    sizes = np.array([len(group) for group in arrays])
    if sizes.max() < 2:
        raise ValueError("every group has 1 value; spread within groups needs 2 in one of them")
    # about one of the values: exact for a large common level, and means keep their digits
    shift = arrays[0][0]
    arrays = [group - shift for group in arrays]
    means = np.array([group.mean() for group in arrays])
    grand = float((sizes * means).sum() / sizes.sum())
    within = sum(((group - group.mean()) ** 2).sum() for group in arrays)
    none = _rounding(np.concatenate(arrays))
    squares = [_or_none(square, none)
               for square in ((sizes * (means - grand) ** 2).sum(), within)]
    df = (len(arrays) - 1, int(sizes.sum()) - len(arrays))
    return table((("between", squares[0], df[0], "within"), ("within", squares[1], df[1], None)))


def crossed(values: npt.ArrayLike, names: tuple[str, str]) -> Anova:
    """Two random factors, every level of one with every level of the other.

    Parameters
    ----------
    values : (levels of the first, levels of the second, repeats), finite; two levels or more of
        each
    names : of the two factors

    Returns
    -------
    Anova
        Lines: first, second, "interaction", "repeats". Both factors are held against the
        interaction, the interaction against the repeats. With one repeat there is no line
        "repeats".

    Raises
    ------
    ValueError
        Not three dimensions, too few levels, or a value not finite.

    Source
    ------
    Montgomery, Design and Analysis of Experiments, two-factor random model (from memory).
    """
    x = _cube(values)
    a, b, r = x.shape
    x = x - x[0, 0, 0]
    x, none = x - x.mean(), _rounding(x)
    first, second, cell = x.mean(axis=(1, 2)), x.mean(axis=(0, 2)), x.mean(axis=2)
    beyond = cell - first[:, None] - second[None, :]
    squares = [_or_none(square, none) for square in (
        b * r * (first**2).sum(), a * r * (second**2).sum(), r * (beyond**2).sum(),
        ((x - cell[:, :, None]) ** 2).sum())]
    lines: list[tuple[str, float, int, str | None]] = [
        (names[0], squares[0], a - 1, "interaction"),
        (names[1], squares[1], b - 1, "interaction"),
        ("interaction", squares[2], (a - 1) * (b - 1), "repeats" if r > 1 else None),
    ]
    if r > 1:
        lines.append(("repeats", squares[3], a * b * (r - 1), None))
    return table(tuple(lines))


def without_interaction(full: Anova) -> Anova:
    """The same crossed study with the interaction counted as repeats."""
    first, second, *rest = full.lines
    residual = (sum(line.sum_of_squares for line in rest), sum(line.df for line in rest))
    return table((
        (first.name, first.sum_of_squares, first.df, "repeats"),
        (second.name, second.sum_of_squares, second.df, "repeats"),
        ("repeats", *residual, None),
    ))


def table(lines: tuple[tuple[str, float, int, str | None], ...]) -> Anova:
    """A table from (name, sum of squares, degrees of freedom, name of the line held against)."""
    square = {name: (total / df, df) for name, total, df, _ in lines}
    return Anova(
        lines=tuple(_source(name, total, df, square[against] if against else None)
                    for name, total, df, against in lines),
        total=sum(line[1] for line in lines), total_df=sum(line[2] for line in lines),
    )


def _source(name: str, total: float, df: int, against: tuple[float, int] | None) -> Source:
    f = _ratio(total / df, against[0]) if against else float("nan")
    p_value = float(fdtrc(df, against[1], f)) if against else float("nan")
    return Source(
        name=name, sum_of_squares=total, df=df, mean_square=total / df, f=f, p_value=p_value,
        against_df=against[1] if against else None,
    )


def _ratio(square: float, against: float) -> float:
    if against > 0:
        return square / against
    return float("inf") if square > 0 else float("nan")


def _rounding(x: Floats) -> float:
    """A sum of squares no larger than this is the rounding of equal values."""
    return float(x.size * (8 * np.finfo(np.float64).eps * np.abs(x).max()) ** 2)


def _or_none(square: float, none: float) -> float:
    return 0.0 if square <= none else float(square)


def _cube(values: npt.ArrayLike) -> Floats:
    x = np.array(values, dtype=np.float64)
    if x.ndim != 3:
        raise ValueError(f"values has {x.ndim} dimensions; it must have 3")
    if x.shape[0] < 2 or x.shape[1] < 2 or x.shape[2] < 1:
        raise ValueError(f"values has shape {x.shape}; it needs 2 levels or more of each factor")
    if not np.isfinite(x).all():
        at = tuple(int(k) + 1 for k in np.argwhere(~np.isfinite(x))[0])
        raise ValueError(f"values is {x[tuple(k - 1 for k in at)]} at {at}; it must be finite")
    return x
