"""What a gauge adds to the variation of the parts: repeatability and reproducibility."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from qc.stats.checks import Floats, finite_array, inside_unit, positive
from qc.stats.measurement.anova import Anova, crossed, without_interaction
from qc.stats.measurement.variance_components import ratio_interval, variance_interval

POOL_ABOVE = 0.25
STUDY_WIDTH = 6.0
ENOUGH_CLASSES = 5
FEW_PEOPLE = 5
INTERACTIONS = ("auto", "keep", "pool")


class GaugeCaution(Enum):
    """What a reader must know before using a gauge study; the value is the sentence to show."""

    NEGATIVE_COMPONENT = "a component came out below 0 and counts as 0: it is too small to see"
    FEW_PEOPLE = "fewer than 5 people: how far people differ is known poorly, see its interval"
    ONE_REPEAT = (
        "each part was measured once by each person: how parts and people act together cannot be"
        " told from repeatability"
    )
    NO_VARIATION = "repeats do not differ at all: the gauge's steps are too coarse to show why"
    FEW_CLASSES = "the gauge tells fewer than 5 classes of these parts apart"


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """A part of the variance, in squared units of the data.

    ``variance`` is 0 or more, ``raw`` what was found before a negative value became 0.
    ``share`` : of the total variance; ``spread_share`` : of the total standard deviation (these
    do not add up to 1).
    """

    variance: float
    low: float
    high: float
    raw: float
    share: float
    spread_share: float
    method: str

    @property
    def deviation(self) -> float:
        """Standard deviation, in units of the data."""
        return math.sqrt(self.variance)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A figure of merit with its interval; nan where unknown."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeStudy:
    """Where the variation of a study with parts, people and repeats comes from.

    ``interaction`` is None when pooled; ``reproducibility`` : people and interaction; ``gauge`` :
    all but parts. ``table`` : the analysis with the interaction, whatever became of it, and
    ``p_interaction`` its p-value. ``of_tolerance`` : width of the gauge's spread (6 standard
    deviations) over the tolerance. ``class_ratio`` : 1.41 times the spread of parts over that of
    the gauge; ``n_classes`` : its whole part, at least 1, None where the gauge shows no variation.
    """

    parts: Component
    people: Component
    interaction: Component | None
    repeatability: Component
    reproducibility: Component
    gauge: Component
    total: Component
    table: Anova
    p_interaction: float
    of_tolerance: Measure | None
    class_ratio: Measure
    n_classes: int | None
    n_parts: int
    n_people: int
    n_repeats: int
    confidence: float
    cautions: tuple[GaugeCaution, ...]


def gauge_study(
    values: npt.ArrayLike, *, tolerance: float | None = None, interaction: str = "auto",
    pool_above: float = POOL_ABOVE, confidence: float = 0.95,
) -> GaugeStudy:
    """Repeatability and reproducibility where every person measures every part.

    Parameters
    ----------
    values : (parts, people, repeats), one unit, finite; two parts and two people or more
    tolerance : width of the tolerance (upper less lower limit), same unit, above 0
    interaction : "keep", "pool" (into repeatability) or "auto": pooled when its p-value is above
        ``pool_above``
    pool_above : inside (0, 1)
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        Not three dimensions, too few parts or people, or an argument out of its range.

    Notes
    -----
    Random model: parts and people stand for others like them; measurements independent and
    normal. Components by expected mean squares, those below 0 set to 0, sums made of what is
    left. Intervals: repeatability chi-square (exact), all others modified large samples; an
    interval is cut at 0 and speaks of the component before it was set to 0. Classes: the parts
    spread over sqrt(2) times the gauge's, the number of intervals of 97 % that fit side by side
    into the spread of the parts.

    Source
    ------
    Burdick & Larsen (1997), J. Quality Technology 29, 261-273; pooling at 0.25: Bancroft (1964),
    Biometrics 20, 427-442; classes: Wheeler & Lyday (1989), Evaluating the Measurement Process
    (all from memory). Checked against Houf & Berman (1988), IEEE Trans. CHMT 11, 516-522.
    """
    full = crossed(values, ("parts", "people"))
    shape = np.shape(values)
    kept = _keeps_interaction(full, interaction, pool_above, repeats=shape[2])
    table = full if kept else without_interaction(full)
    factors = _factors(shape, kept)
    squares = np.array([line.mean_square for line in table.lines])
    df = np.array([line.df for line in table.lines], dtype=np.float64)
    components = _components(squares, df, factors, inside_unit("confidence", confidence))
    ratio = _class_ratio(components, (squares, df, factors), confidence)
    n_classes = max(1, math.floor(ratio.value)) if math.isfinite(ratio.value) else None
    width = None if tolerance is None else STUDY_WIDTH / positive("tolerance", tolerance)
    others = {name: one for name, one in components.items() if name != "interaction"}
    return GaugeStudy(
        **others, interaction=components.get("interaction"), table=full,
        p_interaction=full.line("interaction").p_value,
        of_tolerance=None if width is None else _spread(components["gauge"], width),
        class_ratio=ratio, n_classes=n_classes, n_parts=shape[0], n_people=shape[1],
        n_repeats=shape[2], confidence=confidence,
        cautions=_cautions(components, shape, n_classes),
    )


def gauge_cube(
    values: npt.ArrayLike, part: Sequence[Hashable], person: Sequence[Hashable]
) -> Floats:
    """Measurements of a list as (parts, people, repeats), in order of first appearance.

    Raises
    ------
    ValueError
        Lengths differ, a value is not finite, or a person measured a part more or fewer times
        than others did (which is named).
    """
    x = finite_array("values", values)
    for name, labels in (("part", part), ("person", person)):
        if len(labels) != len(x):
            raise ValueError(
                f"values has {len(x)} values and {name} {len(labels)}; they must be as many"
            )
    parts, people = ({label: at for at, label in enumerate(dict.fromkeys(labels))}
                     for labels in (part, person))
    cells: dict[tuple[Hashable, Hashable], list[float]] = {
        (a, b): [] for a in parts for b in people}
    for value, pair in zip(x.tolist(), zip(part, person, strict=True), strict=True):
        cells[pair].append(value)
    n_repeats = max(len(cell) for cell in cells.values())
    for (a, b), cell in cells.items():
        if len(cell) != n_repeats:
            raise ValueError(f"part {a} was measured {len(cell)} times by {b}; every person must "
                             f"measure every part as often, here {n_repeats} times")
    return np.array(list(cells.values())).reshape(len(parts), len(people), n_repeats)


def _keeps_interaction(full: Anova, wanted: str, pool_above: float, *, repeats: int) -> bool:
    if wanted not in INTERACTIONS:
        raise ValueError(f"interaction is {wanted!r}; allowed: {', '.join(INTERACTIONS)}")
    inside_unit("pool_above", pool_above)
    if repeats == 1:
        return False
    p_value = full.line("interaction").p_value
    # nan (nothing varies) pools, as there is nothing to keep
    return wanted == "keep" or (wanted == "auto" and p_value <= pool_above)


def _factors(shape: tuple[int, ...], kept: bool) -> dict[str, Floats]:
    """What each mean square counts towards each component: lines of the table in their order."""
    n_parts, n_people, n_repeats = shape
    last = [0.0] if kept else []
    made = {
        "parts": np.array([1.0, 0.0, -1.0, *last]) / (n_people * n_repeats),
        "people": np.array([0.0, 1.0, -1.0, *last]) / (n_parts * n_repeats),
    }
    if kept:
        made["interaction"] = np.array([0.0, 0.0, 1.0, -1.0]) / n_repeats
    made["repeatability"] = np.array([0.0, 0.0, *last, 1.0])
    made["reproducibility"] = made["people"] + made.get("interaction", 0.0)
    made["gauge"] = made["reproducibility"] + made["repeatability"]
    made["total"] = made["gauge"] + made["parts"]
    return made


def _components(
    squares: Floats, df: Floats, factors: dict[str, Floats], confidence: float
) -> dict[str, Component]:
    found = {name: variance_interval(squares, df, factor, confidence=confidence)
             for name, factor in factors.items()}
    size = {name: max(one.value, 0.0) for name, one in found.items()}
    size["reproducibility"] = size["people"] + size.get("interaction", 0.0)
    size["gauge"] = size["reproducibility"] + size["repeatability"]
    size["total"] = size["gauge"] + size["parts"]
    total = size["total"] or math.nan
    return {
        name: Component(
            variance=size[name], low=max(one.low, 0.0), high=max(one.high, size[name]),
            raw=one.value, share=size[name] / total,
            spread_share=math.sqrt(size[name] / total),
            method="chi-square" if name == "repeatability" else one.method,
        )
        for name, one in found.items()
    }


def _class_ratio(
    components: dict[str, Component], made_of: tuple[Floats, Floats, dict[str, Floats]],
    confidence: float,
) -> Measure:
    squares, df, factors = made_of
    gauge = components["gauge"].variance
    if gauge == 0:
        return Measure(value=math.nan, low=math.nan, high=math.nan)
    value = math.sqrt(2 * components["parts"].variance / gauge)
    ratio = ratio_interval(squares, df, factors["parts"], factors["gauge"], confidence=confidence)
    return Measure(value=value, low=math.sqrt(2 * ratio.low),
                   high=max(value, math.sqrt(2 * ratio.high)))


def _spread(component: Component, width: float) -> Measure:
    ends = (component.variance, component.low, component.high)
    value, low, high = (math.sqrt(end) * width for end in ends)
    return Measure(value=value, low=low, high=high)


def _cautions(
    components: dict[str, Component], shape: tuple[int, ...], n_classes: int | None
) -> tuple[GaugeCaution, ...]:
    pairs = (
        (any(one.raw < 0 for one in components.values()), GaugeCaution.NEGATIVE_COMPONENT),
        (shape[1] < FEW_PEOPLE, GaugeCaution.FEW_PEOPLE),
        (shape[2] == 1, GaugeCaution.ONE_REPEAT),
        (components["repeatability"].variance == 0, GaugeCaution.NO_VARIATION),
        (n_classes is not None and n_classes < ENOUGH_CLASSES, GaugeCaution.FEW_CLASSES),
    )
    return tuple(caution for applies, caution in pairs if applies)
